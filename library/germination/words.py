"""What a plan costs, where its figures are from, and what few seeds say, in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from library.catalogue.models import SpeciesFigure
from library.germination.few_seeds import PlanCost, SoFar
from library.germination.method import conditions_for, cost_of
from library.germination.models import BenchRules, GerminationTest, LotEstimate
from library.germination.pictures.facts import Point
from library.germination.results import figures_of
from library.science.sequential import Outcome
from library.stock.models import Lot

Quantity = SpeciesFigure.Quantity
_CONDITIONS = {
    "substrate": Quantity.TEST_SUBSTRATE,
    "temperature_c": Quantity.TEST_TEMPERATURE_C,
    "directions": Quantity.TEST_DIRECTIONS,
}


def where_from(lot: Lot) -> dict[str, str]:
    """For each field of a plan that a published figure fills: who published it."""
    figures = figures_of(lot)
    return {
        field: source_of(figures[quantity])
        for field, quantity in _CONDITIONS.items()
        if quantity in figures
    }


def behind(test: GerminationTest) -> dict[str, SpeciesFigure | None]:
    """The published figures that a test's conditions and counting days are from.

    A condition that was chosen otherwise has none.
    """
    figures, published = figures_of(test.lot), conditions_for(test.lot)
    found = {
        "first_count_on": figures.get(Quantity.TEST_FIRST_COUNT_DAYS),
        "final_count_on": figures.get(Quantity.TEST_FINAL_COUNT_DAYS),
    }
    for field, quantity in _CONDITIONS.items():
        if getattr(test, field) == getattr(published, field):
            found[field] = figures.get(quantity)
    return found


def source_of(figure: SpeciesFigure) -> str:
    """The source of a figure, and that it is from memory where it is."""
    if figure.how.startswith("memory"):
        return _("%(source)s; from memory") % {"source": figure.source}
    return figure.source


def counted(seeds: int) -> str:
    return number_format(seeds, force_grouping=True)


@dataclass(frozen=True)
class Cost:
    """What so many seeds are of a lot, in whole percent, and what a test may cost."""

    seeds: int
    left: int
    percent: int
    allowed: int

    @property
    def sentence(self) -> str:
        words = {
            "seeds": counted(self.seeds),
            "left": counted(self.left),
            "percent": self.percent,
        }
        return _("%(seeds)s of the %(left)s that are left: %(percent)s %%.") % words

    @property
    def warning(self) -> str:
        """What speaks against spending so many; empty where nothing does."""
        if self.seeds > self.left:
            return _("The lot has not so many left.")
        if self.percent > self.allowed:
            return _(
                "That is more than the %(allowed)s %% that the rules of the bench want a test "
                "to cost. Few seeds at a time may cost less."
            ) % {"allowed": self.allowed}
        return ""


def costs(lot: Lot, seeds: int, *, rules: BenchRules) -> Cost:
    return Cost(
        seeds=seeds,
        left=lot.balance,
        percent=round(100 * cost_of(lot, seeds)),
        allowed=rules.test_share_percent,
    )


def size_asked(replicates: Any, seeds_each: Any) -> int:
    """The seeds of a size that is still being typed; 0 for what is no size yet."""
    texts = [str(replicates or ""), str(seeds_each or "")]
    if not all(text.isdecimal() and len(text) <= 4 for text in texts):
        return 0
    return int(texts[0]) * int(texts[1])


def few_seeds_sentences(cost: PlanCost) -> list[str]:
    """What a test with few seeds costs and risks, in plain words."""
    plan = cost.plan
    words = {
        "group": plan.group,
        "most": plan.most,
        "left": counted(cost.seeds_left),
        "expected": round(cost.expected_seeds),
        "fixed": cost.fixed_seeds,
        "good": _exact_percent(plan.good),
        "poor": _exact_percent(plan.poor),
        "alpha": _percent(cost.risk_good),
        "beta": _percent(cost.risk_poor),
        "if_good": round(cost.if_good),
        "if_poor": round(cost.if_poor),
        "likely": _percent(cost.germination),
    }
    sentences = [
        _(
            "%(group)s at a time, each group counted before the next is sown; never more than "
            "%(most)s of the %(left)s that are left."
        ),
        _(
            "If the lot is what it is thought to be, %(likely)s %%, about %(expected)s are "
            "expected to be spent. A test of one size with the risks that the rules of the "
            "bench allow takes %(fixed)s."
        ),
        _(
            "The risks: of 100 lots of which %(good)s in 100 germinate, about %(alpha)s are "
            "called below the standard in error; of 100 lots of which only %(poor)s do, about "
            "%(beta)s are called above it."
        ),
    ]
    if plan.most < cost.fixed_seeds:
        sentences.append(
            _(
                "The seeds may run out before that is certain: then the nearer side is taken, "
                "and the test says that it is less sure."
            )
        )
    return [sentence % words for sentence in sentences]


def _percent(share: float) -> str:
    return number_format(round(100 * share))


def _exact_percent(share: float) -> str:
    """With the half that a standard and half a width make, and no zero after it."""
    return number_format(round(100 * share, 1)).removesuffix(number_format(0.0, 1)[1:])


def few_seeds_said(so_far: SoFar | None) -> str:
    """What the groups of a test say, in one or two sentences; empty for other tests."""
    if so_far is None:
        return ""
    count = ngettext(
        "%(normal)s of %(sown)s seed germinated.",
        "%(normal)s of %(sown)s seeds germinated.",
        so_far.sown,
    ) % {"normal": so_far.normal, "sown": so_far.sown}
    return f"{count} {_said(so_far)}"


def _said(so_far: SoFar) -> str:
    verdict, left = so_far.verdict, so_far.left
    words: dict[str, Any] = {"left": left, "most": so_far.most}
    if verdict is None:
        return (
            ngettext(
                "The last one, not counted yet, will decide.",
                "What the %(left)s not yet counted do will decide.",
                left,
            )
            % words
        )
    if verdict.outcome == Outcome.SOW_MORE:
        return _sow_more(so_far) % (words | {"next": verdict.sow_next})
    above = verdict.outcome == Outcome.ABOVE
    if left:
        return _certain(above, left) % words
    if verdict.cut_off:
        return (
            _("The seeds that may be spent ran out: rather above the standard than below.")
            if above
            else _("The seeds that may be spent ran out: rather below the standard than above.")
        )
    return _("Above the standard.") if above else _("Below the standard.")


def _sow_more(so_far: SoFar) -> str:
    if not so_far.left:
        return _("Not decided: sow another %(next)s, at most %(most)s in all.")
    return ngettext(
        "Whatever the last one does, another %(next)s are sown after it.",
        "Whatever the %(left)s left do, another %(next)s are sown after them.",
        so_far.left,
    )


def _certain(above: bool, left: int) -> str:
    if above:
        return ngettext(
            "Already certain: above the standard, even if the last one dies.",
            "Already certain: above the standard, even if all %(left)s left die.",
            left,
        )
    return ngettext(
        "Already certain: below the standard, even if the last one germinates.",
        "Already certain: below the standard, even if all %(left)s left germinate.",
        left,
    )


def alive(now: Point, *, standard_percent: float) -> str:
    """In one sentence how much of a lot is alive today, from the picture beside it."""
    return _(
        "About %(median)s of 100 seeds are alive today, between %(low)s and %(high)s; "
        "%(chance)s %% sure to be above the library's %(standard)s %%."
    ) % {
        "median": number_format(round(now.median)),
        "low": number_format(round(now.low)),
        "high": number_format(round(now.high)),
        "chance": _chance(now.chance / 100),
        "standard": number_format(round(standard_percent)),
    }


def alive_briefly(estimate: LotEstimate) -> str:
    """The same for a table."""
    return _("%(median)s %% (%(low)s to %(high)s)") % {
        "median": _percent(estimate.median),
        "low": _percent(estimate.low),
        "high": _percent(estimate.high),
    }


def _chance(share: float) -> str:
    """A chance that is not quite certain is not called so."""
    whole = round(100 * share)
    if whole == 100 and share < 1:
        return _("more than 99")
    if whole == 0 and share > 0:
        return _("less than 1")
    return number_format(whole)
