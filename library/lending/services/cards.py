"""From a name that somebody wrote on a bag to a card of the catalogue."""

from __future__ import annotations

from dataclasses import dataclass

from accounts.models import Member
from library.catalogue.models import BreedingStatus, Crop, Variety
from library.catalogue.names import fold
from library.catalogue.services import add_variety


@dataclass(frozen=True)
class NewCard:
    """What the desk writes of a variety that has no card yet; the rest can follow later."""

    crop: Crop
    name: str
    breeding_status: str = BreedingStatus.OPEN_POLLINATED
    generation: int | None = None

    def write(self, *, by: Member) -> Variety:
        return add_variety(
            crop=self.crop,
            name=self.name,
            breeding_status=self.breeding_status,
            generation=self.generation,
            by=by,
        )


def known_as(name: str, crop: Crop) -> Variety | None:
    """The variety of the crop that goes by this name, its own or another, if there is one."""
    cards = Variety.objects.filter(crop=crop, names__folded=fold(name)).order_by("pk")
    return cards.select_related("crop__species").first()
