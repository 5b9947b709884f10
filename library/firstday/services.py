"""Setting up an empty library step by step, and putting the welcome away."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from accounts.models import Member
from accounts.roles import ADMINISTER
from library.errors import NotAllowed, Refused
from library.firstday.models import SetupStep, WelcomeRead
from library.stock.models import Lot

Step, State = SetupStep.Step, SetupStep.State


def standing() -> dict[str, str]:
    """Each step in its order, with its state; empty for one that is still to come."""
    taken = dict(SetupStep.objects.values_list("step", "state"))
    return {step: taken.get(step, "") for step in Step.values}


def is_offered() -> bool:
    """While something is left to do, in a library that holds no seed yet or was begun here."""
    left = SetupStep.objects.count()
    return left < len(Step.values) and (left > 0 or not Lot.objects.exists())


def next_step(after: str | None = None) -> str | None:
    """The first step that is left, looked for behind ``after`` first; None when none is."""
    steps = list(Step.values)
    begin = steps.index(after) + 1 if after else 0
    known = standing()
    return next((step for step in steps[begin:] + steps[:begin] if not known[step]), None)


@transaction.atomic
def note_step(*, step: str, state: str, by: Member) -> None:
    """A step was taken or passed over. What was done stays done."""
    if not by.has_perm(ADMINISTER):
        raise NotAllowed(_("Only an administrator sets the library up."))
    if step not in Step.values:
        raise Refused(_("“%(step)s” is no step of the first day.") % {"step": step})
    told = {"state": state, "by": by, "at": timezone.now()}
    row, fresh = SetupStep.objects.get_or_create(step=step, defaults=told)
    if not fresh and row.state != State.DONE:
        SetupStep.objects.filter(pk=row.pk).update(**told)


@transaction.atomic
def leave_the_rest(*, by: Member) -> None:
    """Pass over all that is left; it is not offered any more."""
    for step in Step.values:
        note_step(step=step, state=State.SKIPPED, by=by)


def put_welcome_away(*, member: Member) -> None:
    """For good, however often it is asked."""
    WelcomeRead.objects.get_or_create(member=member)
