"""What a reader may ask of a line that is being stabilised."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from library.provenance.figures import brief_percent
from library.provenance.line import LEVELS, LineProgress

LEAST_LEVEL, MOST_LEVEL, MOST_GENES = Decimal(50), Decimal("99.9"), 1000
_LEVEL = _("Give a level from 50 to 99.9, in percent, with one decimal at most, such as 97.5.")
_GENES = _("Give a whole number of genes, from 1 to 1000.")


def _always(sentence: Any, *codes: str) -> dict[str, Any]:
    return dict.fromkeys(("invalid", "min_value", "max_value", *codes), sentence)


class LineForm(forms.Form):
    """To what level it should breed true, and how many genes matter."""

    level = forms.DecimalField(
        label=_("It should breed true to, %"),
        min_value=LEAST_LEVEL,
        max_value=MOST_LEVEL,
        max_digits=4,
        decimal_places=1,
        required=False,
        help_text=_("50 to 99.9."),
        error_messages=_always(_LEVEL, "max_digits", "max_decimal_places", "max_whole_digits"),
    )
    genes = forms.IntegerField(
        label=_("At so many genes at once"),
        min_value=1,
        max_value=MOST_GENES,
        required=False,
        help_text=_("1 speaks of the share of all genes."),
        error_messages=_always(_GENES),
    )


@dataclass(frozen=True)
class Reached:
    """When a line breeds true to a level; ``generation`` is None if it never does."""

    level: float
    genes: int
    generation: int | None
    is_now: bool

    @property
    def level_words(self) -> str:
        return brief_percent(self.level)


def reached(
    line: LineProgress, *, level: Decimal | None = None, genes: int | None = None
) -> list[Reached]:
    """The usual levels and the one that is asked for, in percent, in order."""
    asked = () if level is None else (float(level) / 100,)
    at = genes or 1
    rows = []
    for each in sorted({*LEVELS, *asked}):
        generation = line.true_to(each, at)
        is_now = generation is not None and generation <= line.generation
        rows.append(Reached(each, at, generation, is_now))
    return rows
