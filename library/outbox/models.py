"""Mail that waits to be delivered, and when each recurring job last ran."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils import timezone

from library.outbox.querysets import MessageQuerySet


class Message(models.Model):
    """One mail to one person, kept in the same transaction as its cause.

    ``message_key`` makes planning repeatable: a second row with the same key is not written.
    ``source`` (``"reminder:17"``) lets the owner be asked again just before delivery whether
    the mail is still wanted, and to which address.
    """

    message_key = models.CharField(max_length=200, unique=True)
    source = models.CharField(max_length=80, blank=True)
    to = models.EmailField(blank=True)  # empty once forgotten
    sender = models.CharField(max_length=320, blank=True)  # empty: the library's own address
    subject = models.CharField(max_length=250)
    text = models.TextField()
    html = models.TextField(blank=True)
    headers = models.JSONField(default=dict, blank=True)
    created_at = models.DateTimeField(default=timezone.now)
    not_before = models.DateTimeField(default=timezone.now)
    claimed_at = models.DateTimeField(null=True, blank=True)
    claimed_by = models.CharField(max_length=80, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    last_error = models.TextField(blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    failed_at = models.DateTimeField(null=True, blank=True)
    dropped_at = models.DateTimeField(null=True, blank=True)

    objects = MessageQuerySet.as_manager()

    class Meta:
        indexes = [
            # The next mail to deliver.
            models.Index(
                fields=["not_before"],
                condition=Q(sent_at=None, failed_at=None, dropped_at=None),
                name="message_waiting",
            ),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(sent_at=None, failed_at=None)
                | Q(sent_at=None, dropped_at=None)
                | Q(failed_at=None, dropped_at=None),
                name="message_has_one_end",
            ),
        ]

    def __str__(self) -> str:
        return self.message_key


class Periodic(models.Model):
    """When a recurring job last began; taken by compare-and-swap so that one runner has it."""

    name = models.CharField(max_length=80, unique=True)
    last_run_at = models.DateTimeField(null=True, blank=True)
    last_finished_at = models.DateTimeField(null=True, blank=True)
    last_error = models.TextField(blank=True)

    def __str__(self) -> str:
        return self.name
