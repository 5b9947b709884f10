"""What is told of a stand's isolation, and of the chain's, in the reader's language."""

from __future__ import annotations

from typing import Any

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from library.science.isolation import IsolationVerdict, Status
from library.science.purity import Grade
from library.stock.models import Lot

SENTENCES = {
    "isolation_clonal": gettext_lazy(
        "Replanted from tubers, cloves or slips: pollen does not matter."
    ),
    "isolation_self": gettext_lazy(
        "It pollinates itself, and no distance is known to be needed."
    ),
    "isolation_cage": gettext_lazy(
        "Grown in a cage, which keeps other pollen out if pollinators are brought in and none "
        "escape."
    ),
    "isolation_bag": gettext_lazy(
        "Flowers were bagged, which keeps other pollen out if seed was saved from them alone."
    ),
    "isolation_hand_pollination": gettext_lazy(
        "Flowers were closed and pollinated by hand, which keeps other pollen out if seed was "
        "saved from them alone."
    ),
    "isolation_no_neighbour_no_distance": gettext_lazy(
        "No isolation distance is known for %(species)s, and no neighbour was noted."
    ),
    "isolation_no_distance": gettext_lazy(
        "No isolation distance is known for %(species)s. %(nearest)s was noted %(noted)s m "
        "away."
    ),
    "isolation_too_close": gettext_lazy(
        "%(nearest)s was noted %(noted)s m away, and at least %(required)s m are needed: "
        "%(short)s m short."
    ),
    "isolation_flowering_unknown": gettext_lazy(
        "%(nearest)s was noted %(noted)s m away, %(short)s m short of the %(required)s m that "
        "are needed, and nobody noted whether the two flowered together."
    ),
    "isolation_unrecorded": gettext_lazy(
        "Nobody noted what kept it from crossing; at least %(required)s m are needed."
    ),
    "isolation_none_known": gettext_lazy(
        "It is said to have flowered at another time than whatever could have crossed with it."
    ),
    "isolation_far_enough": gettext_lazy(
        "%(nearest)s was noted %(noted)s m away; at least %(required)s m are needed."
    ),
    "purity_distance_without_metres": gettext_lazy(
        "It is said to have been isolated by distance, but nobody noted by how many metres; at "
        "least %(required)s m are needed."
    ),
    "purity_nothing_without_metres": gettext_lazy(
        "Nothing was done to keep it from crossing, and nobody noted how far the nearest other "
        "was; at least %(required)s m are needed."
    ),
    "purity_known_planting": gettext_lazy(
        "Another planting of the species that the library knows of was nearer than is needed."
    ),
    "purity_known_planting_flowering": gettext_lazy(
        "It is said to have flowered at another time, but another planting of the species that "
        "the library knows of was nearer than is needed, and nobody noted whether the two "
        "flowered together."
    ),
}
# Of these nothing hangs on what else grew near.
_SETTLED = {
    "isolation_clonal",
    "isolation_self",
    "isolation_cage",
    "isolation_bag",
    "isolation_hand_pollination",
}
_NO_ROOM_NEEDED = gettext_lazy(
    "This species needs no distance, only room enough that the seed is not mixed."
)


def sentence(
    verdict: IsolationVerdict, lot: Lot, *, looked_for: bool, for_coordinator: bool
) -> str:
    """The verdict on a lot's stand; of what the grower noted, in the grower's words.

    ``looked_for`` says whether the library could look for other plantings near it; to others
    than coordinators it does not say what it finds.
    """
    told = _verdict(verdict, lot)
    if looked_for or verdict.reason in _SETTLED or verdict.status is Status.TOO_CLOSE:
        return told
    if verdict.inputs.get("required_m") in (None, 0):
        return told
    if not for_coordinator:
        return _("%(told)s Whether others grew near it is for coordinators to look up.") % {
            "told": told
        }
    return _("%(told)s Where it grew is not known closely enough to look for others near.") % {
        "told": told
    }


def _verdict(verdict: IsolationVerdict, lot: Lot) -> str:
    inputs = verdict.inputs
    if verdict.reason == "isolation_none_known" and not inputs.get("required_m"):
        return str(_NO_ROOM_NEEDED)
    words = {
        "species": lot.variety.crop.species.botanical_name,
        "nearest": _nearest(str(inputs.get("neighbour") or "")),
        "noted": _metres(inputs.get("distance_m")),
        "required": _metres(inputs.get("required_m")),
        "short": _metres(inputs.get("shortfall_m")),
    }
    return str(SENTENCES[verdict.reason]) % words


def _nearest(neighbour: str) -> str:
    if not neighbour:
        return _("The nearest that could cross")
    return _("The nearest that could cross (%(neighbour)s)") % {"neighbour": neighbour}


def _metres(number: Any) -> str:
    return "" if number is None else number_format(round(number), force_grouping=True)


def bulked() -> str:
    return _("Bulked from several lots: nothing grew.")


def replanted() -> str:
    return str(SENTENCES["isolation_clonal"])


def taken_from_a_jar() -> str:
    return _("Taken from another lot's jar: nothing grew in between.")


def nothing_grown() -> str:
    return _("Nothing that is written down was grown from flowers in this chain yet.")


def of_chain(grade: Grade, lot: Lot, told: str, stands: int) -> str:
    """The chain in one sentence, with the link that decides."""
    words = {"lot": lot.number, "year": lot.harvest_year, "told": told, "stands": stands}
    if grade is Grade.SAFE:
        lead = ngettext(
            "The one stand was kept from crossing, as far as anybody noted",
            "All %(stands)s stands were kept from crossing, as far as anybody noted",
            stands,
        )
        lead = _("%(lead)s. The weakest link") % {"lead": lead}
    else:
        lead = _("As good as its weakest link")
    words["lead"] = lead % words
    if lot.harvest_year is None:
        return _("%(lead)s, lot %(lot)s (harvest year not known): %(told)s") % words
    return _("%(lead)s, lot %(lot)s of %(year)s: %(told)s") % words
