"""What a member chooses for themselves."""

from __future__ import annotations

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from accounts.models import Member
from accounts.services.checks import clean, free_name
from library.errors import Conflict, Refused

CHOOSABLE = frozenset(
    {"display_name", "time_zone", "language", "wants_reminders", "wants_news"}
)


@transaction.atomic
def save_preferences(*, member: Member, **chosen) -> Member:
    """Save what is given of ``CHOOSABLE``; the rest stays as it is."""
    if not chosen.keys() <= CHOOSABLE:
        wrong = sorted(chosen.keys() - CHOOSABLE)[0]
        raise Refused(_("“%(field)s” is not a preference.") % {"field": wrong}, field=wrong)
    member = Member.objects.select_for_update().get(pk=member.pk)
    if "display_name" in chosen:
        chosen["display_name"] = free_name(chosen["display_name"], member=member)
    for field, value in chosen.items():
        setattr(member, field, value)
    clean(member, but=tuple(f.name for f in Member._meta.fields if f.name not in chosen))
    try:
        with transaction.atomic():
            member.save(update_fields=sorted(chosen))
    except IntegrityError as error:
        raise Conflict(
            _("This name was taken a moment ago. Choose another."), field="display_name"
        ) from error
    return member
