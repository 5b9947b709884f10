"""What members record of a variety's chances, and how the library looks ahead."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Member
from library.catalogue.models import Variety
from library.errors import Refused
from library.growouts.models import Elsewhere, GrowOutRules
from library.growouts.services.checks import a_day, approved, coordinates
from library.stock.services.checks import fits, in_words

FIELDS = frozenset(
    {
        "horizon_years",
        "yearly_hazard_percent",
        "usual_success_percent",
        "apart_m",
        "answer_within_days",
        "plan_seconds",
    }
)


@transaction.atomic
def record_elsewhere(
    *,
    variety: Variety,
    ease: str,
    on: dt.date,
    by: Member,
    note: str = "",
    known_on: dt.date | None = None,
) -> Elsewhere:
    """A member says whether a variety can still be had outside; the newest word counts.

    ``known_on`` is the day of which it is true, ``on`` unless told; it is not in the future.
    """
    approved(by)
    as_of = a_day(on if known_on is None else known_on, field="known_on")
    if as_of > on:
        raise Refused(
            _("%(day)s is still to come; give the day on which you looked.")
            % {"day": in_words(as_of)},
            field="known_on",
        )
    if ease not in Elsewhere.Ease.values:
        raise Refused(
            _("“%(ease)s” is no such answer; say one of: %(known)s.")
            % {"ease": ease, "known": ", ".join(Elsewhere.Ease.values)},
            field="ease",
        )
    return Elsewhere.objects.create(
        variety=variety,
        ease=ease,
        known_on=as_of,
        note=fits(note, field="note", most=500),
        recorded_by=by,
    )


@transaction.atomic
def change_growout_rules(*, by: Member, **rules: Any) -> GrowOutRules:
    """Change what is given of how the library looks ahead and plans."""
    coordinates(by)
    if not rules.keys() <= FIELDS:
        wrong = sorted(rules.keys() - FIELDS)[0]
        raise Refused(_("“%(field)s” is no such rule.") % {"field": wrong}, field=wrong)
    GrowOutRules.current()
    row = GrowOutRules.objects.select_for_update(no_key=True).get(pk=1)
    for name, value in rules.items():
        setattr(row, name, value)
    try:
        row.clean_fields()
    except ValidationError as error:
        field, said = next(iter(error.message_dict.items()))
        raise Refused(said[0], field=field) from error
    row.save()
    return row
