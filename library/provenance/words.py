"""The sentences of a lot's story. What nobody told is said to be unknown."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from django.contrib.humanize.templatetags.humanize import intcomma
from django.utils.formats import date_format, number_format
from django.utils.text import get_text_list
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from library.stock.models import Growing, Isolation, Lot, Origin

if TYPE_CHECKING:
    from library.provenance.story import Overview, Step


_WITHOUT_DISTANCE = (Isolation.CAGE, Isolation.BAG, Isolation.HAND_POLLINATION)


def share(part: float) -> str:
    """A share in percent; never 0 or 100 for what is only nearly that."""
    percent = 100 * part
    if percent >= 99.95:
        return _("all")
    if percent < 0.1:
        return _("under 0.1 %")
    decimals = int(percent < 10)
    return _("%(n)s %%") % {"n": number_format(round(percent, decimals), decimals)}


def chapter(number: int, years: Sequence[int | None]) -> str:
    """The heading of a generation, with its harvest years."""
    told = sorted({year for year in years if year is not None})
    span = str(told[0]) if len(told) == 1 else f"{told[0]}–{told[-1]}" if told else ""
    if number == 0:
        name = _("Where it began")
    else:
        name = _("Grown on: generation %(n)s") % {"n": number}
    return f"{name}, {span}" if span else name


def overview(seen: Overview) -> list[str]:
    """The chain in three or four sentences."""
    begun = _beginning(seen)
    if not seen.grown:
        return [begun, _("In this chain nothing has been grown from it yet.")]
    sentences = [
        begun,
        ngettext(
            "Since then its seed was sown and harvested once.",
            "Since then its seed was sown and harvested %(n)s times, one after another.",
            seen.generations,
        )
        % {"n": seen.generations},
    ]
    if seen.elsewhere:
        sentences.append(
            ngettext(
                "One of the lots before it was kept by another library.",
                "%(n)s of the lots before it were kept by another library.",
                seen.elsewhere,
            )
            % {"n": intcomma(seen.elsewhere)}
        )
    return [*sentences, *_fewest(seen)]


def _beginning(seen: Overview) -> str:
    years = [lot.harvest_year for lot in seen.beginnings if lot.harvest_year is not None]
    oldest = min(years, default=None)
    n = len(seen.beginnings)
    if seen.lot in seen.beginnings:
        return _("The chain begins with this lot.")
    if oldest is None:
        told = ngettext(
            "Its chain begins with one lot whose harvest year was not told.",
            "Its chain begins with %(n)s lots whose harvest years were not told.",
            n,
        )
    else:
        told = ngettext(
            "Its chain begins with one lot, harvested in %(year)s.",
            "Its chain begins with %(n)s lots, the oldest harvested in %(year)s.",
            n,
        )
    return told % {"n": intcomma(n), "year": oldest}


def _fewest(seen: Overview) -> list[str]:
    sentences = []
    if seen.fewest is not None:
        n = seen.fewest.growing.plants_gave_seed or 0
        told = ngettext(
            "At the fewest one plant gave seed, for lot %(lot)s.",
            "At the fewest %(n)s plants gave seed, for lot %(lot)s.",
            n,
        )
        sentences.append(told % {"n": intcomma(n), "lot": seen.fewest.number})
    if seen.untold:
        told = ngettext(
            "Of one stand nobody noted how many plants gave seed.",
            "Of %(n)s stands nobody noted how many plants gave seed.",
            seen.untold,
        )
        sentences.append(told % {"n": intcomma(seen.untold)})
    return sentences


def of_step(step: Step) -> list[str]:
    """How one lot came to be, sentence by sentence."""
    sentences = _elsewhere(step.lot) if step.lot.is_elsewhere else []
    if step.came_about == Origin.BULK:
        return [*sentences, _bulked(step)]
    if step.came_about == Origin.RETURN:
        return [*sentences, _grown(step), *_how_grown(step)]
    if step.is_part:
        sentences.append(_part(step))
    elif not step.lot.is_elsewhere:
        sentences.append(_brought(step.lot))
    region = step.lot.origin_region
    if region:
        sentences.append(_("It came from: %(region)s.") % {"region": region})
    elif not step.is_part:
        sentences.append(_("Where it had come from was not told."))
    if step.growing is not None:
        sentences += _how_grown(step)
    return sentences


def _elsewhere(lot: Lot) -> list[str]:
    facts = {"library": lot.foreign.library, "number": lot.foreign.number}
    if lot.foreign.place:
        told = _("Kept by %(library)s in %(place)s, as its lot %(number)s.")
        return [told % (facts | {"place": lot.foreign.place})]
    return [_("Kept by %(library)s, as its lot %(number)s.") % facts]


def _brought(lot: Lot) -> str:
    day = date_format(lot.received_on)
    if lot.source_name:
        told = _("Brought by %(who)s on %(day)s.")
        return told % {"who": lot.source_name, "day": day}
    return _("Brought on %(day)s by somebody whose name was not told.") % {"day": day}


def _part(step: Step) -> str:
    parent = step.parents[0].lot
    facts = {"parent": parent.number, "day": date_format(step.lot.received_on)}
    if parent.is_elsewhere:
        told = _("Brought on %(day)s out of the jar of lot %(parent)s: the same seed.")
    else:
        told = _("It came home on %(day)s: seed out of our own lot %(parent)s.")
    return told % facts


def _bulked(step: Step) -> str:
    parts = [
        _("%(lot)s (%(share)s)") % {"lot": parent.lot.number, "share": parent.percent}
        for parent in step.parents
    ]
    told = _("Seed of several lots was poured together on %(day)s: %(parts)s.")
    day = date_format(step.lot.received_on)
    return told % {"day": day, "parts": get_text_list(parts, _("and"))}


def _grown(step: Step) -> str:
    parents = get_text_list([_parent(step, p) for p in step.parents], _("and"))
    return _("Grown by %(who)s from %(parents)s.") % {
        "who": _grower(step.lot),
        "parents": parents,
    }


def _grower(lot: Lot) -> str:
    if lot.is_elsewhere:
        return lot.foreign.grower_name or _("somebody whose name was not told")
    return lot.grower.display_name if lot.grower else _("somebody who has left")


def _parent(step: Step, parent) -> str:
    if len(step.parents) == 1:
        return _("lot %(lot)s") % {"lot": parent.lot.number}
    return _("lot %(lot)s (%(share)s)") % {"lot": parent.lot.number, "share": parent.percent}


def _how_grown(step: Step) -> list[str]:
    growing = step.growing
    if growing is None:
        return [_("How it was grown was not told.")]
    crosses = [] if step.is_clonal else [_isolation(growing)]
    return [_plants(growing), *crosses, *_chosen(growing)]


def _plants(growing: Growing) -> str:
    parts = []
    if growing.plants_sown is not None:
        parts.append(_("%(n)s set out") % {"n": intcomma(growing.plants_sown)})
    if growing.plants_stood is not None:
        parts.append(_("%(n)s stood") % {"n": intcomma(growing.plants_stood)})
    if growing.plants_gave_seed is not None:
        parts.append(_("%(n)s gave seed") % {"n": intcomma(growing.plants_gave_seed)})
    else:
        parts.append(_("how many gave seed was not noted"))
    if growing.pollen_plants is not None:
        parts.append(_("%(n)s shed pollen") % {"n": intcomma(growing.pollen_plants)})
    return _("Plants: %(parts)s.") % {"parts": ", ".join(parts)}


def _isolation(growing: Growing) -> str:
    metres, neighbour = growing.isolation_distance_m, growing.crossing_neighbour
    if growing.isolation == Isolation.UNKNOWN and metres is None:
        return _("What kept it from crossing was not noted.")
    facts = {
        "how": growing.get_isolation_display(),
        "m": "" if metres is None else intcomma(metres),
        "what": neighbour,
    }
    if metres is None and neighbour:
        told = _("Kept from crossing by: %(how)s. Nearest that could cross: %(what)s.")
    elif metres is None and growing.isolation in _WITHOUT_DISTANCE:
        told = _("Kept from crossing by: %(how)s.")
    elif metres is None:
        told = _("Kept from crossing by: %(how)s. No distance was noted.")
    elif neighbour:
        told = _(
            "Kept from crossing by: %(how)s. Nearest that could cross: %(what)s, %(m)s m away."
        )
    else:
        told = _("Kept from crossing by: %(how)s. Nearest that could cross: %(m)s m away.")
    return told % facts


def _chosen(growing: Growing) -> list[str]:
    if not growing.selection and not growing.roguing:
        return [_("Nothing was noted of what was selected for or pulled out.")]
    sentences = []
    if growing.selection:
        sentences.append(_("Selected for: %(what)s") % {"what": _ended(growing.selection)})
    if growing.roguing:
        sentences.append(_("Pulled out: %(what)s") % {"what": _ended(growing.roguing)})
    return sentences


def _ended(text: str) -> str:
    """What somebody noted, as the end of a sentence."""
    return text if text[-1:] in ".!?…" else f"{text}."
