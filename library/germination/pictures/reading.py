"""From a lot to its picture: what the curve shows, in words and in numbers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from library.germination.estimates import LotViability, counted_test, estimate_of
from library.germination.models import BenchRules, GerminationTest, PlannedSowing, TestDate
from library.germination.pictures import facts as plain
from library.germination.pictures.axis import short_month
from library.germination.pictures.curve import (
    NARROW,
    SMALL,
    WIDE,
    Curve,
    Shape,
    Words,
    draw,
    ticks_of,
)
from library.germination.pictures.sampling import sampled
from library.germination.pictures.stays import stays_of
from library.germination.reasons import nearly_certain
from library.germination.results import TestResult, result_of
from library.stock.places import PlaceTree

if TYPE_CHECKING:
    from library.science.posterior import Estimate, ViabilityOn
    from library.stock.models import Lot

Results = Sequence[tuple[GerminationTest, TestResult | None]]
SHORT = "SHORT_DATE_FORMAT"
FEW_POINTS = 24  # of the small picture


@dataclass(frozen=True, eq=False)
class LotCurve:
    """A lot's viability as a picture in several sizes, as a table and as sentences."""

    lot: Lot
    viability: LotViability
    facts: plain.CurveFacts
    date: TestDate | None
    full: bool = True

    @cached_property
    def shapes(self) -> list[Curve]:
        """The picture in each size that its place can have."""
        return [self._drawn(shape) for shape in ((WIDE, NARROW) if self.full else (SMALL,))]

    def _drawn(self, shape: Shape) -> Curve:
        return draw(self.facts, shape, words(self.facts))

    @cached_property
    def now(self) -> plain.Point:
        return next(p for p in self.facts.points if p.on == self.facts.today)

    @property
    def rows(self) -> list[tuple[plain.Point, str, str]]:
        """The table: the estimate on round days and on those that matter, why."""
        named: dict[dt.date, list[str]] = {self.facts.start: [_("storage begins")]}
        for mark in self.facts.marks:
            named.setdefault(mark.on, []).append(mark.what)
        ticks = ticks_of(self.facts, WIDE, words(self.facts))
        round_days = {*ticks.days, self.facts.end}
        return [
            (point, in_words(point.chance), "; ".join(named.get(point.on, [])))
            for point in self.facts.points
            if point.on in named or point.on in round_days
        ]

    @property
    def title(self) -> str:
        return _("Viability of lot %(number)s over time") % {"number": self.lot.number}

    @property
    def summary(self) -> str:
        """What the picture shows, for who hears it."""
        return " ".join(_sentences(self))

    @property
    def stays(self) -> list[tuple[str, plain.Stay]]:
        """The letters of the strip with what they stand for."""
        return [(drawn.letter, drawn.stay) for drawn in self.shapes[0].stays]

    @property
    def lettered(self) -> list[tuple[str, plain.Stay]]:
        """Those of them whose names fit into the strip in no size, or not in every one."""
        named = [{drawn.letter for drawn in c.stays if drawn.is_named} for c in self.shapes]
        in_all = set.intersection(*named)
        return [each for each in self.stays if each[0] not in in_all]

    @property
    def has_believed(self) -> bool:
        return any(test.believed for test in self.facts.tests)

    @property
    def has_doubted(self) -> bool:
        return not all(test.believed for test in self.facts.tests)


def curve_of(
    lot: Lot,
    viability: LotViability,
    *,
    today: dt.date | None = None,
    results: Results | None = None,
    date: TestDate | None = None,
    tree: PlaceTree | None = None,
    for_desk: bool = False,
    full: bool = True,
) -> LotCurve | None:
    """The picture of a lot's viability; None for a lot that nothing can predict.

    Give ``results`` (the lot's tests with what they say) and ``date`` when they are read.
    ``for_desk`` names the storage places and what is to be sown, which may name somebody;
    others are told the kind of place. Not ``full`` is the small picture of the lot's page.
    """
    if viability.estimate is None:
        return None
    today = max(today or timezone.localdate(), viability.stored_on)
    marks = sorted(_marks(lot, date, today, for_desk=for_desk), key=lambda mark: mark.on)
    tests = list(_tests(results if results is not None else _results(lot)))
    start = viability.stored_on
    last_days = [*(mark.on for mark in marks), *(test.on for test in tests)]
    end = plain.picture_end(start, today, last_days)
    stays = stays_of(viability.history, tree=tree, for_desk=for_desk)
    facts = plain.CurveFacts(
        start=start,
        end=end,
        today=today,
        standard=100 * viability.standard,
        points=_points(viability.estimate, start, _fixed(start, end, marks, stays), full=full),
        tests=tests,
        marks=marks,
        stays=stays,
    )
    return LotCurve(lot, viability, facts, date, full)


def in_words(chance: float) -> str:
    """A chance in whole percent, never as if it were certain."""
    return nearly_certain(chance) or f"{chance:.0f}"


def small_curve_of(
    lot: Lot,
    *,
    results: Results,
    rules: BenchRules,
    date: TestDate | None,
    for_desk: bool,
) -> LotCurve | None:
    """The picture of the lot's own page, from what that page has read already."""
    tests = [
        counted_test(test.pk, test.closed_on, list(test.replicates.all()))
        for test, result in results
        if result is not None and test.closed_on and test.state == test.State.CLOSED
    ]
    tree = PlaceTree()
    viability = estimate_of(lot, rules=rules, tree=tree, tests=tests)
    return curve_of(
        lot,
        viability,
        results=results,
        date=date,
        tree=tree,
        for_desk=for_desk,
        full=False,
    )


def words(facts: plain.CurveFacts) -> Words:
    """What the picture writes, in the reader's language."""
    return Words(
        month=short_month,
        year=lambda day: str(day.year),
        percent=lambda value: _("%(n)s %%") % {"n": f"{value:.0f}"},
        standard=_("standard %(n)s %%") % {"n": f"{facts.standard:.0f}"},
        disagrees=_("dishes disagree"),
    )


def _fixed(
    start: dt.date,
    end: dt.date,
    marks: Iterable[plain.DayMark],
    stays: Iterable[plain.Stay],
) -> list[dt.date]:
    """The days that the table names and the days on which the curve may bend."""
    days = {start, end, *(mark.on for mark in marks), *(stay.since for stay in stays)}
    bare = plain.CurveFacts(start=start, end=end, today=start, standard=0, points=())
    days.update(ticks_of(bare, WIDE, words(bare)).days)
    return sorted(day for day in days if start <= day <= end)


def _points(
    estimate: Estimate, start: dt.date, fixed: Iterable[dt.date], *, full: bool
) -> list[plain.Point]:
    days = [float((on - start).days) for on in fixed]
    most = {} if full else {"most": FEW_POINTS}
    from library.science.posterior_curve import fine_estimate  # takes numpy along

    found = sampled(fine_estimate(estimate).on, days, **most)
    return [_point(each, start + dt.timedelta(days=int(each.day))) for each in found]


def _point(each: ViabilityOn, on: dt.date) -> plain.Point:
    return plain.Point(
        on=on,
        # A share of 1e-279 is none, in print too.
        low=round(100 * each.low, 4),
        median=round(100 * each.median, 4),
        high=round(100 * each.high, 4),
        chance=round(100 * each.chance_above, 4),
    )


def _results(lot: Lot) -> Results:
    rules = BenchRules.current()
    tests = lot.germination_tests.closed().with_results()
    return [(test, result_of(test, rules=rules)) for test in tests]


def _tests(results: Results) -> Iterator[plain.TestMark]:
    """The closed tests, oldest first."""
    for test, result in sorted(results, key=lambda each: (each[0].started_on, each[0].pk)):
        if result is None or test.closed_on is None or test.state != test.State.CLOSED:
            continue
        yield plain.TestMark(
            on=test.closed_on,
            percent=result.exact_percent,
            low=result.low,
            high=result.high,
            germinated=result.germinated,
            sown=result.sown,
            believed=result.replicates_agree is not False,
            number=test.pk,
        )


def _marks(
    lot: Lot, date: TestDate | None, today: dt.date, *, for_desk: bool
) -> Iterator[plain.DayMark]:
    yield plain.DayMark(on=today, mark=plain.Mark.TODAY, short=_("today"), what=_("today"))
    if date is not None:
        first = date.kind == TestDate.Kind.FIRST
        what = _("to be tested first by") if first else _("to be tested again by")
        short = _("test by %(on)s") % {"on": date_format(date.due_on, SHORT)}
        yield plain.DayMark(on=date.due_on, mark=plain.Mark.RETEST, short=short, what=what)
    for sowing in PlannedSowing.objects.filter(lot=lot).to_come(today) if for_desk else []:
        short = _("sow %(on)s") % {"on": date_format(sowing.on, SHORT)}
        what = _("planned sowing: %(what_for)s") % {"what_for": sowing.what_for}
        yield plain.DayMark(on=sowing.on, mark=plain.Mark.SOWING, short=short, what=what)


def _sentences(curve: LotCurve) -> Iterator[str]:
    facts, now = curve.facts, curve.now
    yield _(
        "On %(on)s about %(median)s %% of the seed is alive; nine times in ten the true share "
        "lies between %(low)s and %(high)s %%."
    ) % {
        "on": date_format(now.on),
        "median": f"{now.median:.0f}",
        "low": f"{now.low:.0f}",
        "high": f"{now.high:.0f}",
    }
    yield _(
        "The chance that it is at least the standard of %(standard)s %% is %(chance)s %%."
    ) % {
        "standard": f"{facts.standard:.0f}",
        "chance": in_words(now.chance),
    }
    yield from _falls(facts)
    if curve.date is not None:
        yield _("It is to be tested by %(on)s.") % {"on": date_format(curve.date.due_on)}
    yield from _of_tests(facts.tests)
    sowings = sum(mark.mark == plain.Mark.SOWING for mark in facts.marks)
    if sowings:
        yield ngettext("%(n)s sowing is planned.", "%(n)s sowings are planned.", sowings) % {
            "n": sowings
        }


def _falls(facts: plain.CurveFacts) -> Iterator[str]:
    """When the median passes the standard, if the picture goes so far."""
    numbers = {"standard": f"{facts.standard:.0f}"}
    below = next((p.on for p in facts.points if p.median < facts.standard), None)
    if below is None:
        yield _("In all the years shown the likeliest share stays above it.")
    elif below > facts.today:
        yield _("The likeliest share falls below it about %(year)s.") % {"year": below.year}
    else:
        yield _("The likeliest share is below %(standard)s %% already.") % numbers


def _of_tests(tests: Sequence[plain.TestMark]) -> Iterator[str]:
    if not tests:
        yield _("It was never tested: all this is expected, nothing is counted.")
        return
    newest = tests[-1]
    yield ngettext("%(n)s test is shown.", "%(n)s tests are shown.", len(tests)) % {
        "n": len(tests)
    }
    yield _(
        "The newest, of %(on)s, found %(percent)s %% (exact 95 %% interval %(low)s to "
        "%(high)s %%)."
    ) % {
        "on": date_format(newest.on),
        "percent": f"{newest.percent:.0f}",
        "low": f"{newest.low:.0f}",
        "high": f"{newest.high:.0f}",
    }
    doubted = sum(not test.believed for test in tests)
    if doubted:
        yield ngettext(
            "In %(n)s of them the dishes disagree; it is not counted.",
            "In %(n)s of them the dishes disagree; they are not counted.",
            doubted,
        ) % {"n": doubted}
