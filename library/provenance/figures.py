"""The numbers of a chain as a page and the API tell them: each with its formula and source."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from library.science.coancestry import SOURCE, ChainDiversity, LotDiversity

SIZE_SOURCE = "Falconer & Mackay 1996, ch. 4; Crow & Kimura 1970 (from memory)"
MOST_INPUTS = 20


@dataclass(frozen=True)
class Measure:
    """One number of a chain, in words; ``number`` is None where there is nothing to count.

    ``inputs`` are what went in, labelled.
    """

    key: str
    label: str
    value: str
    number: float | None
    formula: str
    source: str
    sentence: str
    inputs: tuple[tuple[str, str], ...] = ()


def figures_of(diversity: ChainDiversity) -> tuple[Measure, ...]:
    """What was measured, the most telling first."""
    return (
        _kept(diversity),
        _effective_size(diversity),
        _narrowest(diversity),
        _generations(diversity),
        _inbreeding(diversity),
    )


def lots_assumed(diversity: ChainDiversity) -> frozenset[str]:
    """The lots of whose plants nobody noted how many gave seed, nor how many stood."""
    return frozenset(
        str(reason.inputs["lot"])
        for reason in diversity.assumed
        if reason.key == "chain_plants_assumed"
    )


def percent(share: float) -> str:
    """A share as a percentage that never rounds to a certainty that it is not."""
    if 0 < share < 0.001:
        return _("less than 0.1 %")
    if 0.999 < share < 1:
        return _("more than 99.9 %")
    return _("%(n)s %%") % {"n": rounded(100 * share, 1)}


def brief_percent(share: float) -> str:
    """A share that somebody chose as a percentage, with one decimal where it has one."""
    return _("%(n)s %%") % {"n": size(100 * share)}


def size(plants: float) -> str:
    """An effective size, with one decimal where it has one."""
    return rounded(plants, int(round(plants, 1) % 1 != 0))


def rounded(number: float, decimals: int) -> str:
    """A number as the reader writes it; the framework by itself would cut off, not round."""
    unit = Decimal(1).scaleb(-decimals)
    halves_up = Decimal(repr(float(number))).quantize(unit, rounding=ROUND_HALF_UP)
    return str(number_format(halves_up, decimals))


def _kept(diversity: ChainDiversity) -> Measure:
    within = diversity.gene_diversity
    deposited = within / diversity.kept if diversity.kept else 0.0
    return Measure(
        key="gene_diversity_kept",
        label=_("Gene diversity kept"),
        value=percent(diversity.kept),
        number=diversity.kept,
        formula=_("(1 − coancestry within the lot) / (1 − coancestry within its deposits)"),
        source=SOURCE,
        sentence=_(
            "How much of the difference between seeds is left of what the deposits had. What "
            "is missing was lost by growing from few plants."
        ),
        inputs=(
            (_("1 − coancestry within the lot"), rounded(within, 4)),
            (_("1 − coancestry within its deposits"), rounded(deposited, 4)),
        ),
    )


def _effective_size(diversity: ChainDiversity) -> Measure:
    mean = diversity.harmonic_mean_size
    return Measure(
        key="effective_size",
        label=_("Mean effective size"),
        value=_("nothing grown yet") if mean is None else size(mean),
        number=mean,
        formula=_("t / sum(c² / Ne), c being the part of the lot that came through a grow-out"),
        source=SIZE_SOURCE,
        sentence=_(
            "A stand of so many plants in every generation would have lost as much. The "
            "smallest grow-out weighs most."
        ),
        inputs=tuple(_sizes(diversity)),
    )


def _sizes(diversity: ChainDiversity) -> list[tuple[str, str]]:
    """The effective size of each grow-out, of many the smallest."""
    grown = [lot for lot in diversity.lots.values() if lot.effective_size is not None]
    smallest = sorted(grown, key=lambda lot: lot.effective_size or 0.0)[:MOST_INPUTS]
    shown = [lot for lot in grown if lot in smallest] if len(grown) <= MOST_INPUTS else smallest
    return [(_("Ne of %(lot)s") % {"lot": lot.lot}, _size_of(lot)) for lot in shown]


def _size_of(lot: LotDiversity) -> str:
    return "" if lot.effective_size is None else size(lot.effective_size)


def _narrowest(diversity: ChainDiversity) -> Measure:
    lot = diversity.narrowest
    sentence = _("No grow-out from seed is in the chain.")
    if lot is not None and lot.plants is not None:
        words = ngettext(
            "Lot %(lot)s: %(n)s plant gave its genes, and counts for so many of a stand that "
            "mates at random.",
            "Lot %(lot)s: %(n)s plants gave their genes, and count for so many of a stand that "
            "mates at random.",
            lot.plants,
        )
        sentence = words % {"lot": lot.lot, "n": number_format(lot.plants)}
        if lot.lot in lots_assumed(diversity):
            sentence = _("%(sentence)s Nobody noted how many: that number is assumed.") % {
                "sentence": sentence
            }
    return Measure(
        key="narrowest",
        label=_("Smallest grow-out"),
        value=_("nothing grown yet") if lot is None else _size_of(lot),
        number=None if lot is None else lot.effective_size,
        formula=_(
            "Ne = N / (1 + F), with F = s / (2 − s) where a part s of the seeds is selfed; "
            "4 Nm Nf / (Nm + Nf) where the sexes are apart"
        ),
        source=_("Crow & Kimura 1970; Pollak 1987; Wright 1931 (from memory)"),
        sentence=sentence,
    )


def _generations(diversity: ChainDiversity) -> Measure:
    lot = diversity.measured
    fewest, most = lot.fewest_generations, lot.most_generations
    if fewest == most:
        value = number_format(most)
        sentence = _("How many times its seed was grown on since it was brought.")
    else:
        value = _("%(fewest)s to %(most)s") % {"fewest": fewest, "most": most}
        sentence = _(
            "How many times its seed was grown on since it was brought, by the shortest and "
            "the longest way that led to it; on the mean %(mean)s."
        ) % {"mean": rounded(lot.generations, 1)}
    return Measure(
        key="generations",
        label=_("Generations since the deposit"),
        value=str(value),
        number=lot.generations,
        formula=_("grow-outs along each way, weighted by the part of the lot that came by it"),
        source=_("counted along the chain"),
        sentence=sentence,
    )


def _inbreeding(diversity: ChainDiversity) -> Measure:
    return Measure(
        key="inbreeding",
        label=_("Inbreeding of its seeds"),
        value=percent(diversity.inbreeding),
        number=diversity.inbreeding,
        formula=_(
            "s (1 + F) / 2 + (1 − s) T from lot to lot, T being the coancestry of plants"
        ),
        source=SOURCE,
        sentence=_(
            "The chance that a seed's two copies of a gene go back to one copy in a deposit. A "
            "crop that pollinates itself is inbred by nature, and none the worse for it."
        ),
    )
