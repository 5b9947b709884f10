"""Files of another library, written by hand as its server would write them."""

from __future__ import annotations

import json
import uuid
from typing import Any

from library.exchange.prov.vocabulary import SOWBACK

SPACE = uuid.UUID("6f1d7c1e-5b52-4c65-9a0a-0d3a3f2b7c11")


def identifier(name: str) -> uuid.UUID:
    """The same for the same name, as a server keeps it for a lot."""
    return uuid.uuid5(SPACE, name)


def typed(value: Any, kind: str) -> dict[str, Any]:
    return {"$": value, "type": kind}


def a(kind: str) -> dict[str, Any]:
    return typed(kind, "prov:QUALIFIED_NAME")


class File:
    """A PROV-JSON document that a test writes and then spoils.

    ``lot("A", parents={"B": "0.5", …}, year=2021, **facts)``: facts override or, with None,
    remove; the last lot is the head.
    """

    def __init__(self, variety: str, crop: str, species: str) -> None:
        self.of = {
            "sowback:variety": variety,
            "sowback:crop": crop,
            "sowback:species": species,
            "sowback:breedingStatus": "open-pollinated",
        }
        self.data: dict[str, Any] = {
            "prefix": {"lot": "urn:uuid:", "sowback": SOWBACK},
            "entity": {},
            "activity": {},
            "agent": {
                "lot:" + str(identifier("fen")): {
                    "prov:type": a("prov:Organization"),
                    "sowback:displayName": "Fen Edge Seed Library",
                    "sowback:place": "the fens",
                },
                "sowback:harrier": {
                    "prov:type": a("prov:Person"),
                    "sowback:displayName": "marsh harrier",
                },
            },
            "used": {},
            "wasGeneratedBy": {},
            "wasDerivedFrom": {},
            "wasAttributedTo": {},
            "wasAssociatedWith": {},
        }

    def lot(self, name, parents=None, *, year=None, growing=None, origin=None, **facts) -> None:
        key = f"lot:{identifier(name)}"
        year_of_receipt = year or 2020
        record = {
            "prov:type": a("sowback:Lot"),
            "prov:label": f"lot {name}",
            "sowback:number": name,
            **self.of,
            "sowback:origin": origin or ("return" if parents else "deposit"),
            "sowback:receivedOn": typed(f"{year_of_receipt}-10-01", "xsd:date"),
        }
        if year:
            record["sowback:harvestYear"] = typed(year, "xsd:int")
        record |= {f"sowback:{fact}": value for fact, value in facts.items()}
        self.data["entity"][key] = {k: v for k, v in record.items() if v is not None}
        self.relation(
            "wasAttributedTo",
            {"prov:entity": key, "prov:agent": f"lot:{identifier('fen')}"},
        )
        if parents:
            self._made(key, parents, growing or {})
        self.head(name)

    def _made(self, key, parents, growing) -> None:
        made = f"{key}-made"
        self.data["activity"][made] = {
            "prov:type": a("sowback:GrowOut"),
            **{f"sowback:{fact}": value for fact, value in growing.items()},
        }
        self.relation("wasGeneratedBy", {"prov:entity": key, "prov:activity": made})
        self.relation(
            "wasAssociatedWith", {"prov:activity": made, "prov:agent": "sowback:harrier"}
        )
        for parent, share in parents.items():
            other = f"lot:{identifier(parent)}"
            self.relation("used", {"prov:activity": made, "prov:entity": other})
            self.derive(key, other, share, made)

    def derive(self, child: str, parent: str, share: str, made: str | None = None) -> None:
        link = {
            "prov:generatedEntity": child,
            "prov:usedEntity": parent,
            "sowback:share": typed(share, "xsd:decimal"),
        }
        self.relation("wasDerivedFrom", link | ({"prov:activity": made} if made else {}))

    def relation(self, section: str, facts: dict[str, Any]) -> None:
        self.data[section][f"_:{section}{len(self.data[section])}"] = facts

    def head(self, *names: str) -> None:
        for record in self.data["entity"].values():
            record.pop("sowback:head", None)
        for name in names:
            self.entity(name)["sowback:head"] = True

    def entity(self, name: str) -> dict[str, Any]:
        return self.data["entity"][f"lot:{identifier(name)}"]

    def text(self) -> str:
        return json.dumps(self.data, indent=1, ensure_ascii=False)

    def line_with(self, text: str, nth: int = 1) -> int:
        """The line on which ``text`` stands for the nth time."""
        lines = [n for n, line in enumerate(self.text().split("\n"), 1) if text in line]
        return lines[nth - 1]
