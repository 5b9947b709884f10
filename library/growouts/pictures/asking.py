"""What a plan of gardens may be asked for."""

from __future__ import annotations

from django.utils.translation import gettext as _

from library.catalogue.models import Species
from library.errors import Refused
from library.growouts.models import Plan, Season
from library.stock.service_pages import number_asked


def plan_asked(season: Season, text: str) -> Plan | None:
    """The season's plan of that number; None where nobody asked. Raises Refused for no such."""
    if not text:
        return None
    number = number_asked(text)
    found = season.plans.ended_well().filter(pk=number).first() if number else None
    if found is None:
        raise Refused(
            _("The season of %(year)s has no finished plan of that number.")
            % {"year": season.year},
            field="plan",
        )
    return found


def species_asked(text: str) -> Species | None:
    """The species of that short name; None where nobody asked. Raises Refused for no such."""
    if not text:
        return None
    found = None if "\x00" in text else Species.objects.filter(slug=text[:200]).first()
    if found is None:
        raise Refused(_("There is no species of that name."), field="species")
    return found
