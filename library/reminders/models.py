"""What was planned to be said, to whom, that it was said once; how people want it."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from library.outbox.models import Message
from library.reminders.querysets import ReminderQuerySet

STATE_WORDS = {
    "planned": _("planned"),
    "waiting": _("on its way"),
    "sent": _("sent"),
    "failed": _("failed"),
    "withdrawn": _("not wanted any more"),
}


class Reminder(models.Model):
    """One reminder: one for each recipient, kind, subject and due date.

    ``message`` is the mail that carries it, alone or with others in a digest.
    """

    recipient = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="reminders"
    )
    kind = models.CharField(max_length=40)
    subject = models.CharField(max_length=80)
    due_on = models.DateField()
    title = models.CharField(max_length=250)
    detail = models.TextField(blank=True)
    url = models.CharField(max_length=250)
    planned_at = models.DateTimeField(default=timezone.now)
    queued_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    message = models.ForeignKey(
        Message, null=True, blank=True, on_delete=models.SET_NULL, related_name="reminders"
    )
    times_sent_again = models.PositiveSmallIntegerField(default=0)

    objects = ReminderQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["recipient", "kind", "subject", "due_on"], name="reminder_once"
            ),
        ]
        indexes = [
            # What the next planning queues.
            models.Index(
                fields=["recipient"],
                condition=Q(queued_at=None, withdrawn_at=None),
                name="reminder_waiting",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject}"

    @property
    def state(self) -> str:
        """One of ``querysets.STATES``."""
        if self.withdrawn_at is not None:
            return "withdrawn"
        if self.message is None:
            return "planned" if self.queued_at is None else "sent"
        if self.message.sent_at is not None:
            return "sent"
        if self.message.dropped_at is not None:
            return "withdrawn"
        return "failed" if self.message.failed_at is not None else "waiting"

    @property
    def state_words(self) -> Any:
        return STATE_WORDS[self.state]

    @property
    def kind_label(self) -> Any:
        from library.reminders.due import kind_of

        return kind_of(self.kind).label


class Wishes(models.Model):
    """How a member wants to be reminded. No row: each thing alone, at any hour, all kinds."""

    class Rhythm(models.TextChoices):
        SINGLE = "single", _("each thing in a mail of its own")
        DAILY = "daily", _("all of a day in one mail, in the morning")
        WEEKLY = "weekly", _("all of a week in one mail, on Monday morning")

    member = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="reminder_wishes"
    )
    rhythm = models.CharField(
        _("how often"), max_length=10, choices=Rhythm, default=Rhythm.SINGLE
    )
    quiet_from = models.PositiveSmallIntegerField(
        _("no mail from, o'clock"), null=True, blank=True, validators=[MaxValueValidator(23)]
    )
    quiet_until = models.PositiveSmallIntegerField(
        _("until, o'clock"), null=True, blank=True, validators=[MaxValueValidator(23)]
    )
    muted = models.JSONField(default=list, blank=True)  # names of kinds
    gathered_on = models.DateField(null=True, blank=True)  # the day of the last digest

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(quiet_from=None, quiet_until=None)
                | Q(quiet_from__lte=23, quiet_until__lte=23),
                name="reminder_quiet_hours_are_two",
            ),
            models.CheckConstraint(
                condition=Q(rhythm__in=["single", "daily", "weekly"]),
                name="reminder_rhythm_is_known",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.member} {self.rhythm}"
