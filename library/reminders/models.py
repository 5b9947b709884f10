"""What was planned to be said, to whom, and that it was said once."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils import timezone

from library.reminders.querysets import ReminderQuerySet


class Reminder(models.Model):
    """One reminder: one for each recipient, kind, subject and due date."""

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

    objects = ReminderQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["recipient", "kind", "subject", "due_on"], name="reminder_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject}"
