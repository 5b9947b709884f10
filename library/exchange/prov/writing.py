"""A lot's chain as a PROV-JSON document: the lot and all its ancestors."""

from __future__ import annotations

import datetime as dt
import json
import uuid
from typing import Any

from accounts.models import Community
from library.exchange.private import shown_name, without_private
from library.exchange.prov import vocabulary as v
from library.provenance.chain import Chain, came_about, growing_of
from library.stock.models import Growing, Isolation, Lot, Origin

# Names of libraries and people that have no identifier of their own are made from this one.
_NAMES = uuid.UUID("7d1e6c5e-6a55-4d0e-9b58-0d5b6f3f2c11")


def chain_document(chain: Chain) -> dict[str, dict[str, Any]]:
    """The lots of a chain upward as PROV-JSON, sections and records in one order.

    ``chain`` is as `library.provenance.chain.chain_up` gives it; the community is read, nothing
    else. What is not known is left out, and what is private never enters.
    """
    return _Writing(chain).document()


def as_text(document: dict[str, Any]) -> str:
    """The document as a file: each record, and each of its facts, on a line of its own."""
    return json.dumps(document, ensure_ascii=False, indent=2) + "\n"


class _Writing:
    def __init__(self, chain: Chain) -> None:
        self.chain = chain
        self.community = Community.current()
        self.sections: dict[str, dict[str, Any]] = {
            "prefix": dict(v.PREFIXES),
            "entity": {},
            "activity": {},
            "agent": {},
            "wasGeneratedBy": {},
            "used": {},
            "wasDerivedFrom": {},
            "wasAttributedTo": {},
            "wasAssociatedWith": {},
        }

    def document(self) -> dict[str, dict[str, Any]]:
        for lot in self.chain.order:
            self._write(lot)
        return {name: records for name, records in self.sections.items() if records}

    def _write(self, lot: Lot) -> None:
        entity = _lot_name(lot)
        self.sections["entity"][entity] = self._facts(lot)
        library = self._library(lot)
        self._relate("wasAttributedTo", {"prov:entity": entity, "prov:agent": library})
        if depositor := _depositor(lot):
            named = {"prov:entity": entity, "prov:agent": self._person(depositor, library)}
            self._relate("wasAttributedTo", named | {"prov:type": _name(v.DEPOSITOR)})
        self._write_making(lot, entity, library)

    def _facts(self, lot: Lot) -> dict[str, Any]:
        variety = lot.variety
        number = lot.foreign.number if lot.is_elsewhere else lot.number
        return _known(
            {
                "prov:type": _name(v.IS_LOT),
                "prov:label": f"{variety.name}, {number}",
                "sowback:head": True if lot.pk == self.chain.lot.pk else None,
                "sowback:number": number,
                "sowback:variety": variety.name,
                "sowback:crop": variety.crop.name,
                "sowback:species": variety.crop.species.botanical_name,
                "sowback:breedingStatus": variety.breeding_status,
                "sowback:generation": variety.generation,
                "sowback:origin": came_about(lot),
                "sowback:harvestYear": lot.harvest_year,
                "sowback:receivedOn": _typed("date", lot.received_on.isoformat()),
                "sowback:region": without_private(lot.origin_region, most=120),
                "sowback:story": without_private(lot.origin_story, most=8000),
            }
        )

    def _write_making(self, lot: Lot, entity: str, library: str) -> None:
        links = self.chain.parents.get(lot.pk, [])
        growing, grower = growing_of(lot), _grower(lot)
        grown = _grown(growing) if growing else {}
        if not (links or grown or grower):
            return
        activity = f"sowback:made-{lot.identifier}"
        kind = _kind(lot, divided=bool(links))
        self.sections["activity"][activity] = {"prov:type": _name(kind)} | grown
        made = {"prov:entity": entity, "prov:activity": activity}
        self._relate("wasGeneratedBy", made | {"prov:time": _time(lot.received_on)})
        for link in links:
            parent = _lot_name(self.chain.lots[link.parent])
            self._relate("used", {"prov:activity": activity, "prov:entity": parent})
            derived = {
                "prov:generatedEntity": entity,
                "prov:usedEntity": parent,
                "prov:activity": activity,
                "sowback:share": _typed("decimal", f"{link.share:.6f}"),
            }
            self._relate("wasDerivedFrom", derived)
        if grower:
            by = {"prov:activity": activity, "prov:agent": self._person(grower, library)}
            self._relate("wasAssociatedWith", by)

    def _library(self, lot: Lot) -> str:
        if lot.is_elsewhere:
            name, place = lot.foreign.library, lot.foreign.place
            identifier = uuid.uuid5(_NAMES, f"library {name}")
        else:
            name, place = self.community.name, self.community.place
            identifier = self.community.identifier
        key = f"sowback:library-{identifier}"
        name = without_private(name, most=120)
        self.sections["agent"][key] = _known(
            {
                "prov:type": _name(v.ORGANIZATION),
                "prov:label": name,
                "sowback:name": name,
                "sowback:place": without_private(place, most=120),
            }
        )
        return key

    def _person(self, name: str, library: str) -> str:
        """A person of a library, known by the name chosen there and by nothing else."""
        key = f"sowback:person-{uuid.uuid5(_NAMES, f'{library} {name}')}"
        self.sections["agent"][key] = {
            "prov:type": _name(v.PERSON),
            "sowback:displayName": name,
        }
        return key

    def _relate(self, kind: str, ends: dict[str, Any]) -> None:
        records = self.sections[kind]
        records[f"_:{kind}{len(records) + 1}"] = ends


def _lot_name(lot: Lot) -> str:
    return f"lot:{lot.identifier}"


def _kind(lot: Lot, *, divided: bool) -> str:
    origin = came_about(lot)
    if origin == Origin.BULK:
        return v.BULKING
    return v.DIVIDING if origin == Origin.DEPOSIT and divided else v.GROW_OUT


def _grown(growing: Growing) -> dict[str, Any]:
    told: dict[str, Any] = {name: getattr(growing, field) for field, name in v.GROWN.items()}
    if growing.isolation == Isolation.UNKNOWN:
        del told[v.GROWN["isolation"]]
    for field in ("selection", "roguing"):
        told[v.GROWN[field]] = without_private(getattr(growing, field), most=2000)
    return _known(told)


def _grower(lot: Lot) -> str:
    """The name that a grower chose. Who deposited a lot is not told by having grown it."""
    if lot.is_elsewhere:
        return shown_name(lot.foreign.grower_name)
    if lot.grower is None or lot.origin == Origin.DEPOSIT:
        return ""
    return shown_name(lot.grower.display_name)


def _depositor(lot: Lot) -> str:
    return shown_name(lot.source_name) if came_about(lot) == Origin.DEPOSIT else ""


def _known(facts: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in facts.items() if value not in (None, "")}


def _name(name: str) -> dict[str, str]:
    """A qualified name as a value (PROV-JSON, section 2.3)."""
    return {"$": name, "type": "xsd:QName"}


def _typed(kind: str, text: str) -> dict[str, str]:
    return {"$": text, "type": f"xsd:{kind}"}


def _time(day: dt.date) -> str:
    """A day as the moment it begins, without a time zone: PROV knows no days."""
    return f"{day.isoformat()}T00:00:00"
