"""Where the demo community keeps its seed."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from library.demo import source
from library.demo.world import World
from library.stock.services import add_storage_place


def furnish(world: World) -> None:
    """The hall and what stands in it; an entry's ``inside`` comes before it in the file."""
    for entry in source.places():
        world.places[entry["key"]] = add_storage_place(
            name=entry["name"],
            kind=entry["kind"],
            inside=world.places.get(entry.get("inside", "")),
            temperature_c=_measured(entry.get("temperature")),
            humidity_percent=_measured(entry.get("humidity")),
            note=entry.get("note", ""),
            by=world.coordinator,
        )


def _measured(value: Any) -> Decimal | None:
    return None if value is None else Decimal(str(value))
