"""A variety's risk in words: who keeps it, what each part does, and what would help."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from accounts.models import Member
from accounts.roles import COORDINATE, SERVE_DESK
from library.germination import reasons
from library.growouts.experience import WEIGHT
from library.growouts.models import Elsewhere
from library.growouts.risk.elsewhere import CHANCE, OLD_COUNTS
from library.growouts.risk.lots import CANNOT_BE, MEMBER, UNPREDICTED_YEARLY, LotLeft
from library.growouts.risk.reading import AtRisk
from library.science.risk import Help

SOURCE = gettext_lazy("the library's own model; common practice, no source")
MODEL = gettext_lazy(
    "It is lost if by then nobody has enough living seed to start again and it cannot be had "
    "elsewhere. So the chances that each fails are multiplied: every place that keeps seed, "
    "every grow-out that was promised, and the world outside."
)
DEEDS = {
    Help.DUPLICATE: gettext_lazy("Keep a share of its best seed in another place"),
    Help.ONE_GROWER: gettext_lazy("Find one grower more"),
    Help.TWO_GROWERS: gettext_lazy("Find two growers more"),
    Help.TEST: gettext_lazy("Test its best lot, and grow it out if the test is bad"),
}


def percent(chance: float) -> str:
    """A chance from 0 to 1 as a page writes it; never certain unless it is."""
    if 0 < chance < 0.001:
        return _("less than 0.1 %")
    if 0.999 < chance < 1:
        return _("more than 99.9 %")
    digits = 0 if 0.1 <= round(chance, 3) <= 0.9 else 1
    rounded = Decimal(f"{100 * chance:.{digits}f}")
    whole = rounded == rounded.to_integral_value()
    return _("%(n)s %%") % {"n": number_format(rounded, 0 if whole else 1)}


def years(number: float) -> str:
    """``3 years``."""
    words = ngettext("%(n)s year", "%(n)s years", 1 if number == 1 else 2)
    return words % {"n": number_format(Decimal(f"{number:g}"))}


@dataclass(frozen=True)
class Keeper:
    """Who keeps seed of it, the chance that they fail, and their lots."""

    name: str
    is_member: bool
    fails: float
    lots: tuple[LotLeft, ...]

    @property
    def fails_words(self) -> str:
        return percent(self.fails)


@dataclass(frozen=True)
class Deed:
    """Something that would help: the chance after it, and how much it takes away."""

    deed: Help
    words: str
    lost: float
    saves: float

    @property
    def lost_words(self) -> str:
        return percent(self.lost)

    @property
    def saves_words(self) -> str:
        return percent(self.saves)


@dataclass(frozen=True)
class Told:
    """One variety's risk as somebody is shown it.

    Where in the library seed lies is told to its desk only; others read how many places. How
    sure a grower is to bring seed is told to that grower and to coordinators; others read what
    all grow-outs come to together.
    """

    risk: AtRisk
    keepers: tuple[Keeper, ...]
    deeds: tuple[Deed, ...]
    rank: int | None = None
    each_grower: bool = False

    @property
    def growing(self) -> tuple[float, ...]:
        """The chances that the grow-outs fail: of each, or of all together."""
        fails = self.risk.risk.growing
        return fails if self.each_grower or not fails else (math.prod(fails),)

    @property
    def chance(self) -> str:
        return percent(self.risk.lost)

    @property
    def kept(self) -> str:
        """The chance that one place keeps what it has, for all the years."""
        return percent(self.risk.situation.kept)

    @property
    def best(self) -> Deed | None:
        return self.deeds[0] if self.deeds else None

    @property
    def model(self) -> str:
        return str(MODEL)

    @property
    def source(self) -> str:
        return str(SOURCE)

    @property
    def needs_seed(self) -> bool:
        """Whether nothing is here that a grower could sow."""
        return not self.risk.can_be_sown

    @property
    def is_counted(self) -> bool:
        """Whether a chance says anything of it: of a first-generation hybrid it does not."""
        return self.risk.can_be_regrown

    @property
    def why_rows(self) -> list[tuple[str, str, str]]:
        """Every factor of the chance with what it is made of; their product last."""
        one = self.risk
        rows = [
            (
                _("What %(name)s keeps is lost") % {"name": keeper.name},
                keeper.fails_words,
                _lots(keeper),
            )
            for keeper in self.keepers
        ]
        if not rows:
            rows = [(_("Nobody keeps seed"), percent(1), "")]
        rows += self._growing_rows()
        rows.append(
            (
                _("Cannot be had elsewhere"),
                percent(one.risk.elsewhere),
                elsewhere_words(one.elsewhere, one.situation.elsewhere),
            )
        )
        total = _("Lost within %(years)s: all of these together") % {"years": years(one.years)}
        return [*rows, (total, self.chance, _("multiplied"))]

    def _growing_rows(self) -> list[tuple[str, str, str]]:
        one = self.risk
        if not self.each_grower:
            names = ", ".join(
                f"{promised.commitment.grower.display_name} {promised.commitment.season.year}"
                for promised in one.growing
            )
            note = _("%(names)s; each counts with its grower's chance") % {"names": names}
            words = _("No grow-out that was promised gives seed")
            return [(words, percent(fails), note) for fails in self.growing]
        return [
            (
                _("%(name)s's grow-out of %(year)s fails")
                % {
                    "name": promised.commitment.grower.display_name,
                    "year": promised.commitment.season.year,
                },
                percent(fails),
                _("gives seed with %(success)s, and its place keeps it with %(kept)s")
                % {"success": percent(promised.success), "kept": self.kept},
            )
            for promised, fails in zip(one.growing, one.risk.growing, strict=True)
        ]

    @property
    def reserve_rows(self) -> list[tuple[str, str, str]]:
        inputs = self.risk.reserve.inputs
        return [
            (_("plants that keep it"), str(inputs["plants"]), inputs["plants_source"]),
            (
                _("germination"),
                f"{inputs['germination_percent']} %",
                inputs["germination_source"],
            ),
            (_("sowings kept"), str(inputs["sowings"]), ""),
            (_("seeds that these need"), number_format(self.risk.reserve.seeds), ""),
            (_("seeds here"), number_format(self.risk.reserve.have), ""),
        ]


def told(one: AtRisk, *, reader: Member, rank: int | None = None) -> Told:
    """A variety's risk as a member may read it."""
    deeds = tuple(
        Deed(helped.deed, str(DEEDS[helped.deed]), helped.lost, helped.saves)
        for helped in one.help
    )
    keepers = keepers_of(one, desk=reader.has_perm(SERVE_DESK))
    growers = {promised.commitment.grower_id for promised in one.growing}
    each_grower = reader.has_perm(COORDINATE) or growers <= {reader.pk}
    return Told(one, keepers, deeds, rank, each_grower)


def keepers_of(one: AtRisk, *, desk: bool) -> tuple[Keeper, ...]:
    """Who keeps it, the surest first."""
    fails = one.risk.custodians
    surest = sorted(fails, key=lambda key: (fails[key], key))
    places = [key for key in surest if not key.startswith(MEMBER)]
    keepers = []
    for key in surest:
        lots = tuple(lot for lot in one.lots if lot.custodian == key)
        name = lots[0].custodian_name
        if key in places:
            name = _place(name if desk else "", places.index(key) + 1, len(places))
        keepers.append(Keeper(name, key not in places, fails[key], lots))
    return tuple(keepers)


def _place(name: str, number: int, of: int) -> str:
    if name:
        return _("the library, %(place)s") % {"place": name}
    if of == 1:
        return _("the library")
    return _("the library, place %(number)s") % {"number": number}


def _lots(keeper: Keeper) -> str:
    """The keeper's lots, each with the chance that it will do."""
    return "; ".join(
        _("lot %(lot)s, %(seeds)s %(unit)s, enough alive then: %(alive)s")
        % {
            "lot": lot.lot.number,
            "seeds": number_format(lot.seeds),
            "unit": lot.lot.unit,
            "alive": percent(lot.alive),
        }
        for lot in keeper.lots
    )


def elsewhere_words(record: Elsewhere | None, chance: float) -> str:
    """What was recorded of the world outside, and what it counts for."""
    if record is None:
        return _("nobody has said that it can")
    said = _("%(ease)s, as of %(day)s: counts %(chance)s") % {
        "ease": record.get_ease_display(),
        "day": date_format(record.known_on),
        "chance": percent(chance),
    }
    full = CHANCE[Elsewhere.Ease(record.ease)]
    if full and chance < full:
        half = {"said": said, "share": percent(OLD_COUNTS)}
        return _("%(said)s, that is %(share)s of it, as it is old news") % half
    return said


@dataclass(frozen=True)
class LotTold:
    """A lot's line on the page of its variety."""

    lot: LotLeft
    keeper: str

    @property
    def alive_words(self) -> str:
        return percent(self.lot.alive)

    @property
    def note(self) -> str:
        return lot_note(self.lot)


def lot_note(lot: LotLeft) -> str:
    """What is assumed of a lot that its posterior says nothing of; empty for the others."""
    if not lot.unpredicted:
        return ""
    if lot.unpredicted == CANNOT_BE:
        return _("Its record cannot be, so that nothing is hoped of it; mend its dates.")
    why = reasons.SENTENCES.get(lot.unpredicted, "")
    behaviour = _("of another kind")
    return _(
        "%(why)s Assumed: it is still good with a chance of %(chance)s for each year (common "
        "practice, no source)."
    ) % {
        "why": str(why).format(storage_behaviour=behaviour),
        "chance": percent(UNPREDICTED_YEARLY),
    }


def assumptions(one: AtRisk) -> list[tuple[str, str]]:
    """What the model takes for granted, as sentences with their sources."""
    hazard, common = one.situation.hazard, _("common practice, no source")
    return [
        (
            _(
                "What lies in one building can go at once, by fire, flood, mice or a freezer "
                "that fails: with a chance of %(hazard)s in a year, so that it is all still "
                "there after %(years)s with %(kept)s."
            )
            % {
                "hazard": percent(hazard),
                "years": years(one.years),
                "kept": percent(one.situation.kept),
            },
            _("the library's rules; %(common)s") % {"common": common},
        ),
        (
            _(
                "A lot will do if, at the end, at least as many of its seeds are alive as "
                "plants keep the variety. That chance is from its viability estimate: its "
                "age, where it lay and its tests. A lot counts where its jar lies."
            ),
            _("improved viability equation, Ellis & Roberts 1980; binomial distribution"),
        ),
        (
            _(
                "A grow-out that was accepted gives seed with its grower's chance: "
                "%(expected)s for somebody new, moved by how their grow-outs ended. An offer "
                "that nobody has answered counts for nothing."
            )
            % {"expected": percent(one.usual_success)},
            _("the library's expectation has the weight of %(n)s grow-outs; %(common)s")
            % {"n": number_format(WEIGHT, 0), "common": common},
        ),
        (
            _(
                "What can be had elsewhere easily counts %(easily)s, with some asking "
                "%(asking)s, doubtfully %(doubtful)s; what was said more than five years ago "
                "counts half."
            )
            % {
                "easily": percent(CHANCE[Elsewhere.Ease.EASILY]),
                "asking": percent(CHANCE[Elsewhere.Ease.WITH_ASKING]),
                "doubtful": percent(CHANCE[Elsewhere.Ease.DOUBTFUL]),
            },
            common,
        ),
        (
            _("Packets that are lent count for nothing: they are there to be sown up."),
            common,
        ),
        (
            _(
                "All are taken to fail independently. A hard year is hard for every grower, so "
                "the true chance is rather higher."
            ),
            common,
        ),
    ]
