"""Days on which the stock was counted."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils import timezone

from library.stock.models.ledger import Packet
from library.stock.models.lots import Lot
from library.stock.models.places import StoragePlace


class StockTake(models.Model):
    """A day on which what is there was counted and compared with the ledger."""

    started_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    started_at = models.DateTimeField(default=timezone.now)
    closed_at = models.DateTimeField(null=True, blank=True)
    storage_place = models.ForeignKey(
        StoragePlace, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    note = models.TextField(blank=True, max_length=2000)

    def __str__(self) -> str:
        return f"stock-taking {self.pk}"


class StockTakeLine(models.Model):
    """One lot as counted: what the ledger said then, and what was there."""

    stock_take = models.ForeignKey(StockTake, on_delete=models.CASCADE, related_name="lines")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="stock_take_lines")
    expected_loose = models.PositiveIntegerField()
    counted_loose = models.PositiveIntegerField()
    expected_packets = models.PositiveIntegerField()
    found_packets = models.PositiveIntegerField()
    counted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    counted_at = models.DateTimeField(default=timezone.now)
    missing = models.ManyToManyField(Packet, related_name="+")
    found_again = models.ManyToManyField(Packet, related_name="+")

    class Meta:
        ordering = ["lot_id"]
        constraints = [
            models.UniqueConstraint(fields=["stock_take", "lot"], name="stock_take_lot_once"),
        ]

    def __str__(self) -> str:
        return f"{self.stock_take_id} {self.lot_id}"
