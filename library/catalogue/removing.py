"""Taking a card out of the file again, while nothing rests on it."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from accounts.models import Member
from accounts.roles import COORDINATE
from library.catalogue.models import Variety
from library.errors import Conflict, NotAllowed


@transaction.atomic
def remove_variety(*, variety: Variety, by: Member) -> None:
    """Take out a card that was written by mistake. Raises Conflict, naming what rests on it."""
    if not by.has_perm(COORDINATE):
        raise NotAllowed(_("Cards are taken out by coordinators."))
    card = Variety.objects.select_for_update(of=("self",)).get(pk=variety.pk)
    if built := rests_on_card(card):
        raise Conflict(
            _("The card of %(name)s stays: %(built)s.") % {"name": card.name, "built": built}
        )
    card.names.all().delete()
    card.delete()


def rests_on_card(variety: Variety) -> str:
    """What points at the card besides its own names, in words; empty when nothing does.

    The relations are asked of the ORM, so that what an app above keeps of varieties counts too.
    """
    found = []
    for relation in variety._meta.related_objects:
        if relation.get_accessor_name() == "names":
            continue
        model = relation.related_model
        rows = model._base_manager.filter(**{relation.field.name: variety})
        if count := rows.count():
            found.append(_counted(count, model))
    return ", ".join(found)


def _counted(count: int, model) -> str:
    one, many = model._meta.verbose_name, model._meta.verbose_name_plural
    return ngettext("%(count)s %(one)s", "%(count)s %(many)s", count) % {
        "count": count,
        "one": one,
        "many": many,
    }
