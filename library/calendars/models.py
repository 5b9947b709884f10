"""A member's private calendar: who holds its address, and what was last told in it."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from library.calendars.querysets import EntryQuerySet


class Feed(models.Model):
    """The address under which a member's calendar is read. Only a digest of it is kept."""

    class Style(models.TextChoices):
        EVENTS = "events", _("as events of a whole day, which every calendar shows")
        TASKS = "tasks", _("as tasks to tick off, which some programs show and most leave out")

    member = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="calendar_feed"
    )
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(default=timezone.now)
    style = models.CharField(
        _("show what is due"), max_length=10, choices=Style, default=Style.EVENTS
    )
    with_role = models.BooleanField(
        _("also what I answer for as a volunteer or coordinator"), default=True
    )
    # When its entries were last compared with what is due; None: at the next reading.
    brought_up_at = models.DateTimeField(null=True, blank=True)
    read_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(style__in=["events", "tasks"]), name="feed_style_is_known"
            ),
        ]

    def __str__(self) -> str:
        return f"calendar of {self.member_id}"


class Entry(models.Model):
    """One thing as it was last told in a member's calendar.

    ``sequence`` counts what was changed since it was first told (RFC 5545, 3.8.7.4). An entry
    that is over stays for a while as cancelled, so that a program that merges takes it out.
    """

    member = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="calendar_entries"
    )
    kind = models.CharField(max_length=40)
    subject = models.CharField(max_length=80)
    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    due_on = models.DateField()
    title = models.CharField(max_length=250)
    detail = models.TextField(blank=True)
    url = models.CharField(max_length=250)
    sequence = models.PositiveIntegerField(default=0)
    made_at = models.DateTimeField()
    changed_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = EntryQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["member", "kind", "subject"], name="calendar_entry_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject}"
