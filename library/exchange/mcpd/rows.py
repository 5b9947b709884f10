"""A lot as a row of passport descriptors. What is not known is left empty, never guessed.

The file is one of a published format, so it speaks English whoever asks for it.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from accounts.models import Community
from library.catalogue.models import BreedingStatus, CountedAs
from library.exchange.mcpd.fields import NAMES
from library.exchange.mcpd.taxa import taxon_of
from library.exchange.private import shown_name, without_private
from library.stock.models import ForeignLot, Lot, LotParent, Origin
from library.stock.places import PlaceTree

# An open-pollinated variety may be a traditional cultivar or an improved one, a clone either or
# a selection: nothing tells which, so they have no code here and are named in REMARKS.
SAMPSTAT = {
    BreedingStatus.LANDRACE: "300",
    BreedingStatus.F1: "412",
    BreedingStatus.SEGREGATING: "415",
    BreedingStatus.STABILISED: "500",
}
SEED, SHORT, MEDIUM, LONG, OTHER = "10", "11", "12", "13", "99"
# FAO (2014), Genebank Standards, 4.2.3: -18 ± 3 °C for the long term; 4.2.4: 5 to 10 °C for
# what is worked with. Warmer than that is called short term: common practice, no source.
LONG_TO_C = Decimal(-15)
MEDIUM_TO_C = Decimal(10)


def row_of(lot: Lot, *, tree: PlaceTree, community: Community) -> dict[str, str]:
    """The 41 values of a lot by their fields' names; every one is text, empty if not known.

    The lot comes with its variety, crop, species and the variety's names, its parents with what
    was told of those elsewhere, and of its packets those on the shelf.
    """
    taxon = taxon_of(lot.variety.crop.species.botanical_name)
    foreign = _part_of(lot)
    donor = shown_name(lot.source_name)
    told = {
        "PUID": lot.identifier.urn,
        "ACCENUMB": lot.number,
        "GENUS": taxon.genus,
        "SPECIES": taxon.species,
        "SUBTAXA": taxon.subtaxa,
        "CROPNAME": _plain(lot.variety.crop.name),
        "ACCENAME": _several(_capital(name) for name in _names_of(lot)),
        "ACQDATE": f"{lot.received_on:%Y%m%d}",
        "SAMPSTAT": SAMPSTAT.get(BreedingStatus(lot.variety.breeding_status), ""),
        "ANCEST": _plain(ancestry(lot)),
        "DONORNAME": _plain(donor or (without_private(foreign.library) if foreign else "")),
        "DONORNUMB": _plain(foreign.number) if foreign and not donor else "",
        "OTHERNUMB": f":{_plain(foreign.number)}" if foreign else "",
        "STORAGE": _several(storage(lot, tree)),
        "REMARKS": _several(_remarks(lot, community)),
    }
    return {name: told.get(name, "") for name in NAMES}


def ancestry(lot: Lot) -> str:
    """The lots that it was made of, the greatest share first: ``grown from L00012-3``."""
    links = sorted(lot.parent_links.all(), key=lambda link: (-link.share, link.parent_id))
    parts = [
        _said(link.parent) if len(links) == 1 else f"{_said(link.parent)} {_percent(link)}"
        for link in links
    ]
    made = {Origin.BULK: "bulked from", Origin.RETURN: "grown from"}
    return f"{made.get(Origin(lot.origin), 'part of')} {', '.join(parts)}" if parts else ""


def storage(lot: Lot, tree: PlaceTree) -> list[str]:
    """The codes of where its jar and its packets lie, by the climate there; none when nothing
    of it is left. Where no temperature was noted it is only known that seed is collected.
    """
    if not lot.balance:
        return []
    if lot.counted_as != CountedAs.SEED:
        return [OTHER]
    places = {packet.storage_place_id for packet in lot.packets.all()}
    if lot.loose:
        places.add(lot.storage_place_id)
    codes = {_term(tree.climate(place).temperature_c) for place in places}
    return sorted(codes - {SEED}) or [SEED]


def _term(temperature_c: Decimal | None) -> str:
    if temperature_c is None:
        return SEED
    if temperature_c <= LONG_TO_C:
        return LONG
    return MEDIUM if temperature_c <= MEDIUM_TO_C else SHORT


def _remarks(lot: Lot, community: Community) -> Iterable[str]:
    """What has no field or no code of its own, each with the name of the field it is about."""
    yield f"INSTCODE:{without_private(community.name)}"
    if lot.harvest_year:
        yield f"ACQDATE:harvest of {lot.harvest_year}"
    if lot.origin_region:
        yield f"COLLSITE:{without_private(lot.origin_region)}"
    if lot.variety.breeding_status not in SAMPSTAT:
        yield f"SAMPSTAT:{lot.variety.breeding_status}"
    if lot.variety.generation:
        yield f"SAMPSTAT:F{lot.variety.generation}"
    if foreign := _part_of(lot):
        yield f"OTHERNUMB:{foreign.number} at {without_private(foreign.library)}"
    if not lot.balance:
        yield "STORAGE:nothing of it is left"
    elif lot.counted_as != CountedAs.SEED:
        yield f"STORAGE:kept as {CountedAs(lot.counted_as).name.lower()}"


def _part_of(lot: Lot) -> ForeignLot | None:
    """Of a deposit from another library's jar: whose lot it was, and its number there."""
    links = lot.parent_links.all()
    if lot.origin != Origin.DEPOSIT or len(links) != 1 or not links[0].parent.is_elsewhere:
        return None
    return links[0].parent.foreign


def _said(parent: Lot) -> str:
    if parent.is_elsewhere:
        return f"{parent.foreign.number} of {without_private(parent.foreign.library)}"
    return parent.number


def _percent(link: LotParent) -> str:
    return f"{100 * link.share:.4f}".rstrip("0").rstrip(".") + " %"


def _names_of(lot: Lot) -> list[str]:
    return [name.name for name in lot.variety.names.all()]


def _capital(name: str) -> str:
    return name[:1].upper() + name[1:]


def _plain(text: str) -> str:
    """One line without the sign that separates values."""
    shown = "".join(c if c.isprintable() else " " for c in text)
    return " ".join(shown.replace(";", ",").split())


def _several(values: Iterable[str]) -> str:
    return ";".join(dict.fromkeys(plain for value in values if (plain := _plain(value))))
