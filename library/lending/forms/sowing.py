"""What a borrower may ask of sowing advice. It is asked in the address and kept nowhere."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from django import forms
from django.utils.translation import gettext_lazy as _

from library.errors import Refused
from library.germination.advice import MOST_LOSSES_PERCENT, MOST_PLANTS, SowingAdvice
from library.lending.services import what_a_packet_gives
from library.stock.models import Packet

Told = TypeVar("Told")


class SowingForm(forms.Form):
    """Plants wanted and expected losses. What is left empty is as the library would have it."""

    plants = forms.IntegerField(
        label=_("Plants wanted"),
        required=False,
        widget=forms.NumberInput(attrs={"min": 1, "max": MOST_PLANTS, "class": "short"}),
    )
    losses_percent = forms.DecimalField(
        label=_("Seedlings lost, %"),
        required=False,
        max_digits=20,
        widget=forms.NumberInput(
            attrs={"min": 0, "max": MOST_LOSSES_PERCENT, "step": "0.1", "class": "short"}
        ),
    )
    use_required_attribute = False

    def __init__(self, asked: Mapping[str, Any]) -> None:
        wished = any(name in asked for name in self.base_fields)
        super().__init__(asked if wished else None, auto_id="sowing_%s")

    def told_by(self, tell: Callable[..., Told]) -> Told:
        """What ``tell`` says with the wishes; without them where they cannot be."""
        if self.is_bound and self.is_valid():
            try:
                return tell(**{k: v for k, v in self.cleaned_data.items() if v is not None})
            except Refused as refusal:
                self.add_error(refusal.field, str(refusal))
        return tell()

    def shown_with(
        self, advice: SowingAdvice, packet: Packet, address: Mapping[str, Any] | None = None
    ) -> dict[str, Any]:
        """What ``includes/sowing.html`` draws; what else ``address`` says stays in it."""
        losses = f"{advice.losses_percent.normalize():f}"
        self.initial = {"plants": advice.plants, "losses_percent": losses}
        if self.is_bound:  # what was left empty is filled in as it was taken
            asked = {name: self.data.get(name, "") for name in self.fields}
            self.data = self.initial | {name: value for name, value in asked.items() if value}
        kept = [(k, v) for k, v in (address or {}).items() if k not in self.fields]
        return {
            "sowing_form": self,
            "advice": advice,
            "kept": kept,
            "short": what_a_packet_gives(advice, packet),
        }

    @property
    def wrong(self) -> list[str]:
        """What cannot be, with the name of its field."""
        return [
            f"{self[name].label}: {error}"
            for name, errors in self.errors.items()
            for error in errors
        ]

    @property
    def status(self) -> int:
        return 400 if self.errors else 200
