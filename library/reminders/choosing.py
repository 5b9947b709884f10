"""What members choose of their reminders, and a coordinator's “send again”."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from accounts.models import Member
from accounts.roles import COORDINATE
from library.errors import Conflict, NotAllowed, Refused
from library.outbox.services import queue_mail, try_again
from library.reminders.due import kinds
from library.reminders.letter import write_letter
from library.reminders.models import Reminder, Wishes
from library.reminders.stopping import EVERY_KIND
from library.reminders.wishes import language_of


@transaction.atomic
def save_wishes(
    *,
    member: Member,
    rhythm: str,
    muted: Iterable[str] = (),
    quiet_from: int | None = None,
    quiet_until: int | None = None,
) -> Wishes:
    """Keep how the member wants to be reminded. Quiet hours are from 0 to 23, both or none."""
    if rhythm not in Wishes.Rhythm.values:
        raise Refused(
            _("“%(rhythm)s” is no rhythm; choose one of: %(known)s.")
            % {"rhythm": rhythm, "known": ", ".join(Wishes.Rhythm.values)},
            field="rhythm",
        )
    if (quiet_from is None) != (quiet_until is None):
        missing = "quiet_until" if quiet_until is None else "quiet_from"
        raise Refused(_("Quiet hours need a beginning and an end."), field=missing)
    for field, hour in (("quiet_from", quiet_from), ("quiet_until", quiet_until)):
        if hour is not None and not 0 <= hour <= 23:
            raise Refused(_("An hour is a whole number from 0 to 23."), field=field)
    facts = {
        "rhythm": rhythm,
        "muted": _can_be_muted(muted),
        "quiet_from": quiet_from,
        "quiet_until": quiet_until,
    }
    return Wishes.objects.update_or_create(member=member, defaults=facts)[0]


def _can_be_muted(names: Iterable[str]) -> list[str]:
    known = kinds()
    for name in names:
        if name not in known:
            raise Refused(
                _("There is no kind of reminder called “%(name)s”.") % {"name": name},
                field="muted",
            )
        if known[name].promised:
            raise Refused(
                _("“%(label)s” is what you promised; it can be turned off only with all mail.")
                % {"label": known[name].label},
                field="muted",
            )
    return sorted(set(names))


@transaction.atomic
def stop_kind(*, member: Member, kind: str) -> Wishes:
    """No more mail of this kind, or of ``EVERY_KIND``; twice is as once. What was promised
    goes on.
    """
    Member.objects.select_for_update(no_key=True).get(pk=member.pk)
    wishes, _made = Wishes.objects.get_or_create(member=member)
    asked = {name for name, known in kinds().items() if not known.promised}
    if kind != EVERY_KIND:
        asked &= {kind}
    if asked - set(wishes.muted):
        wishes.muted = sorted({*wishes.muted, *asked})
        wishes.save(update_fields=["muted"])
    return wishes


@transaction.atomic
def send_again(*, reminder: Reminder, by: Member) -> Reminder:
    """A coordinator has it sent once more: what failed is tried again, what was sent is
    repeated. What is no longer so is not sent: that is asked right before it goes.
    """
    if not by.has_perm(COORDINATE):
        raise NotAllowed(_("Only a coordinator sends a reminder again."))
    rows = Reminder.objects.select_for_update(of=("self",), no_key=True)
    reminder = rows.select_related("recipient", "message").get(pk=reminder.pk)
    message = reminder.message
    if reminder.withdrawn_at is not None:
        raise Conflict(_("It was done, moved or turned off meanwhile; nothing is sent."))
    if message is not None and message.failed_at is not None and message.to:
        try_again(message=message)
    elif message is not None and message.sent_at is not None:
        _repeat(reminder)
    else:
        raise Conflict(_("It is on its way already."))
    return reminder


def _repeat(reminder: Reminder) -> None:
    reminder.times_sent_again += 1
    reminder.message = queue_mail(
        to=reminder.recipient.email,
        message_key=f"reminder:{reminder.pk}:again:{reminder.times_sent_again}",
        source=f"reminder:{reminder.pk}",
        **write_letter(reminder, language=language_of(reminder.recipient)),
    )
    reminder.queued_at = timezone.now()
    reminder.save(update_fields=["message", "queued_at", "times_sent_again"])
