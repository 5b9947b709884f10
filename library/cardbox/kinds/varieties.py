"""Cards of varieties."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from accounts.models import Member
from library.cardbox.kinds.base import (
    Fate,
    Field,
    KindOfCard,
    Verdict,
    always,
    key_of,
    wrong,
)
from library.cardbox.kinds.finding import crop_names, one_of, variety_names
from library.cardbox.models import CardRow, Kind
from library.cardbox.naming import Names
from library.cardbox.values import cut, fitting, whole, yes_or_no
from library.catalogue.models import BreedingStatus, Crop, Variety
from library.catalogue.names import fold
from library.catalogue.removing import remove_variety, rests_on_card
from library.catalogue.services import MOST_SYNONYMS, add_variety
from library.errors import Refused

STATUS = {
    "op": BreedingStatus.OPEN_POLLINATED,
    "open pollinated": BreedingStatus.OPEN_POLLINATED,
    "open pollination": BreedingStatus.OPEN_POLLINATED,
    "open": BreedingStatus.OPEN_POLLINATED,
    "f1": BreedingStatus.F1,
    "f1 hybrid": BreedingStatus.F1,
    "hybrid": BreedingStatus.F1,
    "hybrid f1": BreedingStatus.F1,
    "stabilised": BreedingStatus.STABILISED,
    "stabilized": BreedingStatus.STABILISED,
    "stable": BreedingStatus.STABILISED,
    "landrace": BreedingStatus.LANDRACE,
    "clone": BreedingStatus.CLONE,
    "clonal": BreedingStatus.CLONE,
}
_GENERATION = re.compile(r"^f ?(\d{1,2})$")


class Varieties(KindOfCard):
    kind = Kind.VARIETIES
    title = gettext_lazy("Varieties")
    fields = (
        Field("crop", gettext_lazy("crop"),
              "crop;kind;type;vegetable;crop name;plant;what;gattung;kultur", required=True,
              tells=True),
        Field("name", gettext_lazy("name"),
              "variety;name;variety name;cultivar;cultivar name;sort;sorte;variete",
              required=True),
        Field("synonyms", gettext_lazy("other names"),
              "synonyms;other names;also known as;aka;also called;alias"),
        Field("breeding_status", gettext_lazy("breeding status"),
              "breeding status;status;breeding;op or f1;hybrid;pollinated",
              look=lambda text: _status(text) is not None, tells=True),
        Field("description", gettext_lazy("description"),
              "description;notes;note;remarks;comment;comments;looks"),
        Field("origin_story", gettext_lazy("origin story"),
              "origin;story;history;origin story;where from;provenance;source"),
        Field("days_to_maturity", gettext_lazy("days to maturity"),
              "days to maturity;days;dtm;maturity;days to harvest", kind_of_value="number",
              is_whole=always),
        Field("is_rare", gettext_lazy("rare"), "rare;is rare;endangered;heirloom at risk"),
        Field("min_population", gettext_lazy("plants to keep it"),
              "minimum population;plants to keep it;population;min plants",
              kind_of_value="number", is_whole=always),
        Field("own_caution", gettext_lazy("caution"), "caution;warning;toxic;care"),
    )  # fmt: skip
    example = (
        ("Crop", "Variety", "Other names", "Breeding status", "Days", "Rare", "Description"),
        ("tomato", "Weir Lantern", "Lantern; Old Lantern", "open-pollinated", "78", "no",
         "Orange, pointed, keeps until December."),
        ("drying bean", "Fold Gate Brown", "", "landrace", "95", "yes",
         "Climbs to two metres; brown with a white eye."),
        ("courgette", "Early Mill", "", "F4", "55", "no", "Still sorting itself out."),
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.crops = crop_names()
        self.by_pk = {crop.pk: crop for crop in Crop.objects.all()}
        self._names: dict[int, Names] = {}

    def judge(self, said: dict[str, str]) -> Verdict:
        crop = self.by_pk[self._crop(said["crop"])]
        name = self.read(said, "name", lambda text: fitting(" ".join(text.split()), most=120))
        if "\x00" in name:
            raise wrong("name", _("The name has a character that cannot be kept."))
        same = self._same(crop, name)
        if same is not None:
            words = self._names_in(crop.pk).exactly(name) or {}
            known = words.get(same) or Variety.objects.get(pk=same).name
            return Verdict(
                Fate.HERE,
                _("There is a card already: %(card)s.") % {"card": known},
                "name",
                key=key_of(self.kind, crop.pk, fold(name)),
            )
        values = {"crop": crop.pk, "name": name, **self._facts(said, crop, name)}
        return Verdict(Fate.NEW, values=values, key=key_of(self.kind, crop.pk, fold(name)))

    def _crop(self, text: str) -> int:
        unknown = _(
            "“%(text)s” is no crop of the catalogue; write one as the catalogue's list of "
            "crops does, such as “tomato”."
        ) % {"text": cut(text)}
        found = one_of(self, self.crops, "crop", text, unknown=unknown)
        assert found is not None  # noqa: S101 (a crop is never new)
        return found

    def _names_in(self, crop: int) -> Names:
        if crop not in self._names:
            self._names[crop] = variety_names(crop=crop)
        return self._names[crop]

    def _same(self, crop: Crop, name: str) -> int | None:
        new = _("Another: a new card")
        known = self._names_in(crop.pk)
        return one_of(self, known, "name", name, unknown="", may_be_new=new)

    def _facts(self, said: dict[str, str], crop: Crop, name: str) -> dict[str, Any]:
        status, generation = self._status(said.get("breeding_status", ""), crop, name)
        return {
            "breeding_status": status,
            "generation": generation,
            "synonyms": self._synonyms(said.get("synonyms", "")),
            "description": self._text(said, "description"),
            "origin_story": self._text(said, "origin_story"),
            "own_caution": self._text(said, "own_caution", most=2000),
            "days_to_maturity": self._whole(said, "days_to_maturity", 10, 800),
            "min_population": self._whole(said, "min_population", 1, 100_000),
            "is_rare": bool(self.read(said, "is_rare", yes_or_no)),
        }

    def _text(self, said: dict[str, str], name: str, *, most: int = 8000) -> str:
        return self.read(said, name, lambda text: fitting(text, most=most)) or ""

    def _whole(self, said: dict[str, str], name: str, least: int, most: int) -> int | None:
        return self.read(
            said, name, lambda text: whole(text, writing=self.writing, least=least, most=most)
        )

    def _status(self, text: str, crop: Crop, name: str) -> tuple[str, int | None]:
        if not text:
            if crop.is_counted_in_plant_parts:
                return BreedingStatus.CLONE, None
            if "f1" in fold(name).split():
                return BreedingStatus.F1, None
            return BreedingStatus.OPEN_POLLINATED, None
        found = _status(text)
        if found is None:
            raise wrong(
                "breeding_status",
                _("“%(text)s” is no breeding status; write open-pollinated, F1, F2, F3 and so "
                  "on, stabilised, landrace or clone.") % {"text": cut(text)},
            )  # fmt: skip
        return found

    def _synonyms(self, text: str) -> list[str]:
        names = [" ".join(each.split()) for each in re.split(r"[;\n/]", text)]
        names = [each for each in names if each]
        if len(names) > MOST_SYNONYMS or any(len(each) > 120 for each in names):
            raise wrong(
                "synonyms",
                _("Write at most %(most)s other names of up to 120 characters, with a "
                  "semicolon between them.") % {"most": MOST_SYNONYMS},
            )  # fmt: skip
        return names

    # Writing ------------------------------------------------------------------------------
    def write(self, row: CardRow, *, by: Member) -> dict[str, Any]:
        facts = dict(row.values)
        crop = self.by_pk.get(facts.pop("crop"))
        if crop is None:
            raise Refused(_("The crop is not in the catalogue any more."), field="crop")
        return {"variety": add_variety(crop=crop, by=by, **facts).pk}

    def rests_on(self, row: CardRow) -> str:
        card = Variety.objects.filter(pk=row.made["variety"]).first()
        return "" if card is None else rests_on_card(card)

    def undo(self, row: CardRow, *, by: Member, on: dt.date) -> None:
        card = Variety.objects.filter(pk=row.made["variety"]).first()
        if card is not None:
            remove_variety(variety=card, by=by)


def _status(text: str) -> tuple[str, int | None] | None:
    folded = fold(text)
    if folded in STATUS:
        return STATUS[folded], None
    generation = _GENERATION.match(folded)
    if generation and 2 <= int(generation[1]) <= 30:
        return BreedingStatus.SEGREGATING, int(generation[1])
    return None
