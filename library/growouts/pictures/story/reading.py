"""From a season to its story: promises and what became of them, seed and what it changed.

Who failed, and why, is nobody's business but the grower's and the coordinators': members read
of causes in numbers, and those that say something of a person are told as one.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from accounts.models import Member
from accounts.roles import COORDINATE
from library.catalogue.models import Variety
from library.growouts.models import (
    Cause,
    Commitment,
    Milestone,
    MilestonePhoto,
    MilestoneReport,
    Plan,
    Season,
)
from library.growouts.returned import returns_of
from library.growouts.risk.reading import AtRisk, situations
from library.science.risk import chance_of_loss

State, Kind = Commitment.State, Milestone.Kind
# Of these members read no more than that there was another cause.
PERSONAL = frozenset({Cause.ILLNESS, Cause.NEGLECT, Cause.CROSSED, Cause.OTHER})
MOST_PHOTOS = 12
GREW = (State.ACCEPTED, State.FULFILLED, State.FAILED)
COUNTED = (Kind.SOWN, Kind.STAND, Kind.HARVESTED)


@dataclass(frozen=True)
class CauseCount:
    """So many grow-outs failed by one cause; ``words`` is in the reader's language."""

    cause: str
    words: str
    n: int


@dataclass(frozen=True)
class Made:
    """A lot that came of the season."""

    number: str
    seeds: int
    href: str


@dataclass(frozen=True, kw_only=True)
class Grown:
    """A grow-out whose grower may be named to the reader, with what was counted."""

    grower: str
    state: str
    state_words: str
    cause: str = ""
    sown: int | None = None
    stood: int | None = None
    gave_seed: int | None = None
    lots: Sequence[Made] = ()


@dataclass(frozen=True, kw_only=True)
class Renewed:
    """A variety of the season. The chances are from 0 to 1: ``planned`` as a plan recorded it,
    ``without`` as it would be today had the season grown nothing, ``now`` as it is.
    """

    variety: Variety
    grown: Sequence[Grown]
    lots: Sequence[Made]
    planned: float | None
    without: float | None
    now: float | None

    @property
    def is_renewed(self) -> bool:
        return bool(self.lots)

    @property
    def href(self) -> str:
        return self.variety.get_absolute_url()

    @property
    def percents(self) -> list[tuple[str, float]]:
        """The two chances that can be compared, for the bars."""
        if self.without is None or self.now is None:
            return []
        return [("without", round(100 * self.without, 1)), ("now", round(100 * self.now, 1))]


@dataclass(frozen=True)
class Snap:
    """A photo that the reader may see."""

    identifier: str
    caption: str
    width: int
    height: int


@dataclass(frozen=True, eq=False, kw_only=True)
class SeasonStory:
    """A season, told to one reader."""

    season: Season
    today: dt.date
    wanted: int
    states: Mapping[str, int]
    causes: Sequence[CauseCount]
    varieties: Sequence[Renewed]
    planned_on: dt.date | None
    photos: Sequence[Snap]
    photos_in_all: int
    coordinates: bool

    def count(self, *states: str) -> int:
        return sum(self.states.get(state, 0) for state in states)

    @property
    def promised(self) -> int:
        """How many were promised, whatever became of them."""
        return self.count(State.ACCEPTED, State.FULFILLED, State.FAILED)

    @property
    def returned(self) -> int:
        return self.count(State.FULFILLED)

    @property
    def failed(self) -> int:
        return self.count(State.FAILED)

    @property
    def growing(self) -> int:
        return self.count(State.ACCEPTED)

    @property
    def declined(self) -> int:
        return self.count(State.DECLINED, State.LAPSED)

    @cached_property
    def renewed(self) -> list[Renewed]:
        return [row for row in self.varieties if row.is_renewed]

    @property
    def lots(self) -> int:
        return sum(len(row.lots) for row in self.varieties)

    @cached_property
    def expected_losses(self) -> tuple[float, float] | None:
        """How many of the season's varieties would be lost on average, without it and now."""
        known = [row for row in self.varieties if row.without is not None]
        if not known:
            return None
        return sum(row.without or 0 for row in known), sum(row.now or 0 for row in known)

    @property
    def summary(self) -> str:
        """How the season went, in a few sentences."""
        return " ".join(_sentences(self))


def story_of(season: Season, *, viewer: Member, on: dt.date) -> SeasonStory:
    """The season as one person may read of it, on a day; a fixed number of queries."""
    coordinates = viewer.has_perm(COORDINATE)
    rows = list(
        season.commitments.select_related("variety__crop__species", "grower").order_by(
            "variety__folded_name", "grower__display_name_key", "pk"
        )
    )
    wanted = [row.variety for row in season.wanted.with_variety()]
    plan = season.plans.ended_well().first()
    grown = [
        row for row in rows if row.state in (State.ACCEPTED, State.FULFILLED, State.FAILED)
    ]
    photos, in_all = _photos(season, viewer)
    return SeasonStory(
        season=season,
        today=on,
        wanted=len(wanted),
        states=Counter(row.state for row in rows),
        causes=_causes(rows, plainly=coordinates),
        varieties=_varieties(season, wanted, grown, plan, viewer, on),
        planned_on=plan.asked_at.date() if plan else None,
        photos=photos,
        photos_in_all=in_all,
        coordinates=coordinates,
    )


def _causes(rows: Iterable[Commitment], *, plainly: bool) -> list[CauseCount]:
    found = Counter(row.cause for row in rows if row.state == State.FAILED)
    told: Counter[str] = Counter()
    for cause, n in found.items():
        told[cause if plainly or cause not in PERSONAL else Cause.OTHER.value] += n
    return [
        CauseCount(cause, str(Cause(cause).label), n)
        for cause, n in sorted(told.items(), key=lambda one: (-one[1], one[0]))
    ]


def _varieties(
    season: Season,
    wanted: Iterable[Variety],
    grown: Sequence[Commitment],
    plan: Plan | None,
    viewer: Member,
    on: dt.date,
) -> list[Renewed]:
    varieties = {variety.pk: variety for variety in wanted}
    by_variety: dict[int, list[Commitment]] = defaultdict(list)
    for row in grown:
        varieties.setdefault(row.variety_id, row.variety)
        by_variety[row.variety_id].append(row)
    counts, made = _counts(grown), _made(grown)
    known = situations(on=on, varieties=list(varieties.values()))
    planned = _planned(plan)
    told = []
    for pk, variety in varieties.items():
        lots = {lot.number: lot for row in by_variety[pk] for lot in made[row.pk]}
        one = known.get(pk)
        told.append(
            Renewed(
                variety=variety,
                grown=[
                    _grown(row, made, counts[row.pk] if _may_be_told(row, viewer) else {})
                    for row in by_variety[pk]
                    if _may_be_named(row, viewer)
                ],
                lots=list(lots.values()),
                planned=planned.get(pk),
                without=_without(one, season, lots) if one else None,
                now=one.lost if one else None,
            )
        )
    return sorted(told, key=lambda row: (not row.lots, row.variety.folded_name))


def _may_be_named(row: Commitment, viewer: Member) -> bool:
    """Whoever promised and did not fail; to a coordinator, and of oneself, everybody."""
    if row.state != State.FAILED or row.grower_id == viewer.pk:
        return True
    return viewer.has_perm(COORDINATE)


def _may_be_told(row: Commitment, viewer: Member) -> bool:
    """What was counted goes with the seed; until that is there, it is the grower's."""
    if row.state == State.FULFILLED or row.grower_id == viewer.pk:
        return True
    return viewer.has_perm(COORDINATE)


def _grown(
    row: Commitment, made: Mapping[int, Sequence[Made]], counts: Mapping[str, int]
) -> Grown:
    return Grown(
        grower=row.grower.display_name,
        state=row.state,
        state_words=str(row.get_state_display()),
        cause=str(row.get_cause_display()) if row.cause else "",
        sown=counts.get(Kind.SOWN),
        stood=counts.get(Kind.STAND),
        gave_seed=counts.get(Kind.HARVESTED),
        lots=made[row.pk],
    )


def _made(grown: Sequence[Commitment]) -> dict[int, list[Made]]:
    return {
        key: [
            Made(one.lot.number, one.seeds or 0, reverse("lot-chain", args=[one.lot.number]))
            for one in returns
            if one.lot is not None
        ]
        for key, returns in returns_of(grown).items()
    }


def _counts(grown: Iterable[Commitment]) -> Mapping[int, dict[str, int]]:
    """By promise what was counted at each step; the later report corrects the earlier."""
    found: dict[int, dict[str, int]] = defaultdict(dict)
    reports = MilestoneReport.objects.filter(
        milestone__commitment__in=[row.pk for row in grown],
        milestone__kind__in=COUNTED,
        number__isnull=False,
    )
    for key, kind, number in reports.order_by("pk").values_list(
        "milestone__commitment", "milestone__kind", "number"
    ):
        found[key][kind] = int(number or 0)
    return found


def _planned(plan: Plan | None) -> dict[int, float]:
    """By variety the chance of loss that the plan was made with."""
    rows = plan.given.get("varieties", []) if plan else []
    return {int(row["key"][1:]): float(row["loss"]) for row in rows}


def _without(one: AtRisk, season: Season, lots: Mapping[str, Made]) -> float:
    """The chance of loss without the season's seed and promises. What was sown for it stays
    used up, and seed of it that was poured together with other seed is not taken out again.
    """
    situation = replace(
        one.situation,
        holdings=tuple(h for h in one.situation.holdings if h.key not in lots),
        growing=tuple(p.success for p in one.growing if p.commitment.season_id != season.pk),
    )
    return chance_of_loss(situation).lost


def _photos(season: Season, viewer: Member) -> tuple[list[Snap], int]:
    """Photos of one's own reports; of all for coordinators: a picture may tell the place."""
    mine = Commitment.objects.visible_to(viewer).filter(season=season)
    links = MilestonePhoto.objects.filter(report__milestone__commitment__in=mine)
    rows = links.order_by("-report__on", "-pk").values_list(
        "photo__identifier",
        "photo__caption",
        "photo__width",
        "photo__height",
        "report__milestone__commitment__variety__name",
    )
    found = list(rows[: MOST_PHOTOS + 1])
    snaps = [
        Snap(str(key), caption or name, width, height)
        for key, caption, width, height, name in found[:MOST_PHOTOS]
    ]
    in_all = links.count() if len(found) > MOST_PHOTOS else len(found)
    return snaps, in_all


def _sentences(story: SeasonStory) -> Iterable[str]:
    year, promised = story.season.year, story.promised
    if not promised:
        yield _("Nothing was promised for %(year)s.") % {"year": year}
        return
    text = ngettext(
        "For %(year)s, %(n)s grow-out was promised.",
        "For %(year)s, %(n)s grow-outs were promised.",
        promised,
    )
    yield text % {"year": year, "n": promised}
    yield from _outcomes(story)
    renewed = len(story.renewed)
    if renewed:
        text = ngettext(
            "%(n)s variety was renewed, in new lots: %(lots)s.",
            "%(n)s varieties were renewed, in new lots: %(lots)s.",
            renewed,
        )
        yield text % {"n": renewed, "lots": story.lots}


def _outcomes(story: SeasonStory) -> Iterable[str]:
    if n := story.returned:
        yield ngettext("Seed came back of %(n)s.", "Seed came back of %(n)s.", n) % {"n": n}
    if n := story.failed:
        causes = ", ".join(f"{cause.words}: {cause.n}" for cause in story.causes)
        text = ngettext("%(n)s failed (%(causes)s).", "%(n)s failed (%(causes)s).", n)
        yield text % {"n": n, "causes": causes}
    if n := story.growing:
        yield ngettext("%(n)s is growing.", "%(n)s are growing.", n) % {"n": n}
