"""A chain that another library sent: read, looked at, then received or left."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from library.exchange.querysets import ChainImportQuerySet
from library.stock.models import Lot


class ChainImport(models.Model):
    """A file with another library's chain, kept as it came; nothing of it is written elsewhere
    until the desk receives the seed that came with it.
    """

    class State(models.TextChoices):
        PREVIEW = "preview", _("looked at")
        RECEIVED = "received", _("received")
        DROPPED = "dropped", _("left")

    state = models.CharField(max_length=10, choices=State, default=State.PREVIEW)
    file_name = models.CharField(max_length=200, blank=True)
    content = models.TextField()
    brought_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    brought_at = models.DateTimeField(default=timezone.now)
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    decided_at = models.DateTimeField(null=True, blank=True)
    lot = models.OneToOneField(
        Lot, null=True, blank=True, on_delete=models.PROTECT, related_name="came_with_chain"
    )

    objects = ChainImportQuerySet.as_manager()

    class Meta:
        ordering = ["-brought_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(state="received", lot__isnull=False)
                | (~Q(state="received") & Q(lot=None)),
                name="chain_import_received_has_a_lot",
            ),
        ]

    def __str__(self) -> str:
        return f"chain import {self.pk}"

    def get_absolute_url(self) -> str:
        return reverse("chain-import", args=[self.pk])

    @property
    def is_waiting(self) -> bool:
        return self.state == self.State.PREVIEW
