"""From what a file says of a variety to a card of this catalogue."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from library.catalogue.models import Crop, Species, Variety, VarietyName
from library.catalogue.names import fold, split_names
from library.exchange.prov.document import short
from library.exchange.prov.lines import Problem
from library.exchange.prov.told import ToldLot


@dataclass(frozen=True)
class Cards:
    """The cards that a file could mean, by folded names: species, crops, varieties."""

    species: dict[str, Species]
    crops: dict[tuple[int, str], Crop]
    varieties: dict[tuple[int, str], Variety]

    @classmethod
    def for_lots(cls, lots: Iterable[ToldLot]) -> Cards:
        """Read what is needed for these lots: three questions, however many they are."""
        names = {fold(lot.variety) for lot in lots}
        known = VarietyName.objects.filter(folded__in=names)
        # A variety's own name goes before another's synonym.
        rows = known.select_related("variety__crop__species").order_by("-is_synonym", "-pk")
        varieties = {(row.variety.crop_id, row.folded): row.variety for row in rows}
        return cls(_species(), _crops(), varieties)

    def variety_of(self, told: ToldLot, problems: list[Problem]) -> Variety | None:
        """The card of a lot; or None, and the problem with the line of what is not known."""
        species = self.species.get(fold(told.species))
        if species is None:
            words = {"name": short(told.species)}
            sentence = _("no species “%(name)s” is in this catalogue; correct its name.")
            return self._unknown(problems, told, "species", sentence % words)
        crop = self.crops.get((species.pk, fold(told.crop)))
        if crop is None:
            words = {"name": short(told.crop), "species": species.botanical_name}
            sentence = _(
                "%(species)s has no crop “%(name)s” in this catalogue; correct its name."
            )
            return self._unknown(problems, told, "crop", sentence % words)
        variety = self.varieties.get((crop.pk, fold(told.variety)))
        if variety is None:
            words = {"name": short(told.variety), "crop": crop.local_name}
            sentence = _(
                "no variety “%(name)s” of %(crop)s is in this catalogue; write a card for it, "
                "or add the name to the card that it means, and bring the file in again."
            )
            return self._unknown(problems, told, "variety", sentence % words)
        return variety

    def _unknown(
        self, problems: list[Problem], told: ToldLot, fact: str, sentence: str
    ) -> Variety | None:
        lot = _("lot %(lot)s") % {"lot": told.number}
        problems.append(Problem(told.lines.get(fact, told.line), f"{lot}: {sentence}"))
        return None


def _species() -> dict[str, Species]:
    found: dict[str, Species] = {}
    for species in Species.objects.all():
        for name in split_names(species.synonyms):
            found.setdefault(fold(name), species)
    return found | {fold(each.botanical_name): each for each in Species.objects.all()}


def _crops() -> dict[tuple[int, str], Crop]:
    found: dict[tuple[int, str], Crop] = {}
    crops = list(Crop.objects.all())
    for crop in crops:
        for name in split_names(crop.other_names):
            found.setdefault((crop.species_id, fold(name)), crop)
    return found | {(crop.species_id, fold(crop.name)): crop for crop in crops}
