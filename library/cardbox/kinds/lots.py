"""Lots: seed that lies in jars, bags and boxes, with what the cards tell of it."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from accounts.models import Member
from library.cardbox import values
from library.cardbox.kinds.base import (
    NEW,
    UNDONE,
    Fate,
    Field,
    KindOfCard,
    Option,
    Verdict,
    always,
    key_of,
    wrong,
)
from library.cardbox.kinds.finding import crop_names, one_of, variety_names
from library.cardbox.models import CardRow, Kind
from library.cardbox.naming import Names
from library.catalogue.models import Variety
from library.catalogue.names import fold
from library.errors import Refused
from library.lending.services import Packing, deposit_at_desk
from library.stock.models import Lot, Movement, Packet, StoragePlace
from library.stock.services import mend_movement, seeds_from_weight, unpack, withhold
from library.stock.services.checks import plain

# What the import itself writes beside the lot.
OWN = {"movements", "packets", "keepings", "deposit", "test_date", "estimate", "growing"}


class Lots(KindOfCard):
    kind = Kind.LOTS
    title = gettext_lazy("Lots")
    fields = (
        Field("variety", gettext_lazy("variety"),
              "variety;name;variety name;cultivar;seed;sorte;variete", required=True),
        Field("crop", gettext_lazy("crop"),
              "crop;kind;type;vegetable;crop name;plant;gattung", tells=True),
        Field("quantity", gettext_lazy("seeds, or grams"),
              "seeds;quantity;amount;count;number of seeds;how many;weight;grams;g;in stock;"
              "stock;left;qty", required=True, kind_of_value="number",
              is_whole=lambda heading: not _names_grams(heading)),
        Field("harvest_year", gettext_lazy("harvest year"),
              "harvest year;year;harvested;harvest;year of harvest;grown in;packed for"),
        Field("received_on", gettext_lazy("received on"),
              "received on;received;date;date received;acquired;came in;added;entered",
              kind_of_value="day"),
        Field("reference", gettext_lazy("number in the card box"),
              "number;no;nr;id;lot;lot number;accession;accession number;card;card number;"
              "reference;box number;jar"),
        Field("thousand_seed_weight_g", gettext_lazy("weight of a thousand, g"),
              "thousand seed weight;tsw;tkw;tgw;weight of a thousand;1000 seed weight",
              kind_of_value="number"),
        Field("packets", gettext_lazy("packets"),
              "packets;number of packets;packets filled;envelopes;bags",
              kind_of_value="number", is_whole=always),
        Field("seeds_each", gettext_lazy("seeds in a packet"),
              "seeds in a packet;seeds per packet;seeds each;per packet",
              kind_of_value="number", is_whole=always),
        Field("storage_place", gettext_lazy("storage place"),
              "storage place;place;where;location;storage;stored in;box;shelf;freezer"),
        Field("source_name", gettext_lazy("giver"),
              "giver;donor;from;given by;source;who;depositor;origin person"),
        Field("origin_region", gettext_lazy("where it came from"),
              "region;origin;where from;place of origin;country;origin region"),
        Field("origin_story", gettext_lazy("what was told of it"),
              "notes;note;remarks;comment;story;history;description"),
    )  # fmt: skip
    options = (
        Option(
            "givers_agreed",
            gettext_lazy("The givers in this file agreed to be named on the lots' pages"),
            gettext_lazy("Else their names are left out: nobody is named unasked."),
        ),
    )
    example = (
        ("Number", "Crop", "Variety", "Seeds", "Harvest year", "Received on", "Packets",
         "Seeds in a packet", "Storage place", "Giver", "Where from", "Notes"),
        ("12", "tomato", "Weir Lantern", "250", "2024", "2024-10-12", "5", "20", "", "",
         "the next valley", "Kept in the blue tin."),
        ("13", "drying bean", "Fold Gate Brown", "120 g", "2025", "2025-11-02", "", "", "", "",
         "", "Weighed, not counted."),
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.crops, self.varieties = crop_names(), variety_names()
        self._of_crop: dict[int, Names] = {}
        self._cards: dict[int, Variety] = {}
        self.places = Names(
            (fold(place.name), place.pk, place.name) for place in StoragePlace.objects.all()
        )

    def judge(self, said: dict[str, str]) -> Verdict:
        variety = self._variety(said)
        facts = self._facts(said)
        count, weight_told = self._quantity(said, variety, facts)
        self._check_packets(facts, count)
        reference = said.get("reference", "")[:60]
        if reference:
            told = _("Number in the card box: %(number)s.") % {"number": reference}
            facts["origin_story"] = "\n".join(filter(None, [facts["origin_story"], told]))
        key = key_of(self.kind, *[fold(said.get(f.name, "")) for f in self.fields])
        return Verdict(
            Fate.NEW,
            weight_told,
            "quantity" if weight_told else "",
            values={"variety": variety, **facts},
            key=key,
            reference=fold(reference),
        )

    def _variety(self, said: dict[str, str]) -> int:
        names, crop = self.varieties, None
        if text := said.get("crop", ""):
            unknown = _("“%(text)s” is no crop of the catalogue.") % {"text": values.cut(text)}
            crop = one_of(self, self.crops, "crop", text, unknown=unknown)
            names = self._names_in(crop)
        text = said["variety"]
        unknown = _(
            "There is no card for “%(text)s”; bring in the varieties first, or correct the "
            "name."
        ) % {"text": values.cut(text)}
        pk = one_of(self, names, "variety", text, unknown=unknown)
        assert pk is not None  # noqa: S101 (a card is never new here)
        return pk

    def _names_in(self, crop: int | None) -> Names:
        if crop not in self._of_crop:
            self._of_crop[crop or 0] = variety_names(crop=crop)
        return self._of_crop[crop or 0]

    def _card(self, pk: int) -> Variety:
        self._read_cards({pk})
        if pk not in self._cards:
            raise Refused(_("The card is not in the catalogue any more."), field="variety")
        return self._cards[pk]

    def _read_cards(self, keys: set[int]) -> None:
        """Have these cards at hand, with what weights and test days are worked out from."""
        missing = keys - self._cards.keys()
        if missing:
            rows = Variety.objects.with_crop().prefetch_related("crop__species__figures")
            self._cards |= rows.in_bulk(missing)

    def _facts(self, said: dict[str, str]) -> dict[str, Any]:
        received = self.read(said, "received_on", self._day) or self.on
        year = self.read(said, "harvest_year", lambda text: values.year(text, on=received))
        names = self.option("givers_agreed")
        return {
            "received_on": received.isoformat(),
            "harvest_year": year,
            "packets": self._whole(said, "packets", most=1000),
            "seeds_each": self._whole(said, "seeds_each", most=100_000),
            "storage_place": self._place(said.get("storage_place", "")),
            "source_name": self._text(said, "source_name", 120) if names else "",
            "origin_region": self._text(said, "origin_region", 120),
            "origin_story": self._text(said, "origin_story", 7900),
            "thousand_seed_weight_g": self._weight(said, "thousand_seed_weight_g"),
        }

    def _day(self, text: str) -> dt.date:
        return values.day(text, writing=self.writing, on=self.on)

    def _text(self, said: dict[str, str], name: str, most: int) -> str:
        return self.read(said, name, lambda text: values.fitting(text, most=most)) or ""

    def _whole(self, said: dict[str, str], name: str, *, most: int) -> int | None:
        return self.read(
            said, name, lambda text: values.whole(text, writing=self.writing, most=most)
        )

    def _weight(self, said: dict[str, str], name: str) -> str | None:
        def reader(text: str) -> str:
            grams = values.quantity(text, writing=self.writing, unit_known="g")[1]
            return plain(grams) if grams is not None else ""

        return self.read(said, name, reader) or None

    def _place(self, text: str) -> int | None:
        if not text:
            return None
        none = _("None of these: leave the place empty")
        if not self.places.exactly(text) and not self.places.nearly(text):
            if self.decided("storage_place", text) == NEW:
                return None
            sentence = _(
                "“%(text)s” is no storage place here. Add it under storage places first, or:"
            ) % {"text": values.cut(text)}
            raise self.ask("storage_place", text, sentence, [(NEW, none)])
        return one_of(self, self.places, "storage_place", text, unknown="", may_be_new=none)

    def _quantity(
        self, said: dict[str, str], variety: int, facts: dict[str, Any]
    ) -> tuple[int, str]:
        """How many seeds; and of a weight how it was counted. Adds both to the facts."""
        unit = "g" if _names_grams(self.heading_of("quantity")) else ""
        found = self.read(
            said,
            "quantity",
            lambda text: values.quantity(text, writing=self.writing, unit_known=unit),
        )
        seeds, grams = found
        if grams is None:
            facts["seeds"] = seeds
            return seeds, ""
        own = facts["thousand_seed_weight_g"]
        try:
            counted = seeds_from_weight(
                grams=grams, variety=self._card(variety), thousand_seed_weight_g=own
            )
        except Refused as refusal:
            raise wrong("quantity", str(refusal)) from None
        facts["grams"] = plain(grams)
        return counted.seeds, _(
            "%(grams)s g at %(each)s g for a thousand are %(seeds)s seeds (%(source)s)."
        ) % {
            "grams": plain(grams),
            "each": plain(counted.thousand_seed_weight_g),
            "seeds": counted.seeds,
            "source": counted.source[:160],
        }

    def _check_packets(self, facts: dict[str, Any], count: int) -> None:
        packets, each = facts["packets"], facts["seeds_each"]
        if not packets and not each:
            facts["packets"] = facts["seeds_each"] = None
            return
        if not packets or not each:
            raise wrong(
                "packets" if not packets else "seeds_each",
                _("Say both how many packets there are and how many seeds are in each."),
            )
        if packets * each > count:
            raise wrong(
                "packets",
                _("%(packets)s packets of %(each)s are %(all)s seeds, but the row has "
                  "%(count)s in all, packets included.")
                % {"packets": packets, "each": each, "all": packets * each, "count": count},
            )  # fmt: skip

    # Writing ------------------------------------------------------------------------------
    def prepare(self, rows: list[CardRow]) -> None:
        self._read_cards({row.values["variety"] for row in rows})

    def write(self, row: CardRow, *, by: Member) -> dict[str, Any]:
        facts = dict(row.values)
        place, packets = facts.pop("storage_place"), facts.pop("packets")
        each, received = facts.pop("seeds_each"), facts.pop("received_on")
        lot = deposit_at_desk(
            on=dt.date.fromisoformat(received),
            by=by,
            variety=self._card(facts.pop("variety")),
            storage_place=None if place is None else StoragePlace.objects.get(pk=place),
            packing=Packing(packets, each) if packets else None,
            **facts,
        )
        movements = list(lot.movements.values_list("pk", flat=True))
        return {"lot": lot.pk, "number": lot.number, "movements": movements}

    def rests_on(self, row: CardRow) -> str:
        lot = Lot.objects.get(pk=row.made["lot"])
        if moved := lot.movements.exclude(pk__in=row.made["movements"]).count():
            words = ngettext(
                "%(n)s movement of seed in lot %(lot)s",
                "%(n)s movements of seed in lot %(lot)s",
                moved,
            )
            return words % {"n": moved, "lot": lot.number}
        found = [str(m._meta.verbose_name_plural) for m in _what_points_at(lot)]
        if lot.keepings.count() > 1:
            found.append(_("it was moved to another place"))
        words = ", ".join(found)
        return f"{lot.number}: {words}" if words else ""

    def undo(self, row: CardRow, *, by: Member, on: dt.date) -> None:
        """Contrary movements: the packets are emptied, and what was received goes out again."""
        if built := self.rests_on(row):
            raise Refused(built)
        lot, reason = Lot.objects.get(pk=row.made["lot"]), str(UNDONE)
        for packet in lot.packets.filter(state=Packet.State.ON_SHELF).order_by("pk"):
            unpack(packet=packet, on=on, by=by, reason=reason)
        received = lot.movements.get(kind=Movement.Kind.RECEIVED, mends=None)
        mend_movement(movement=received, on=on, by=by, reason=reason)
        if not lot.withheld_reason:
            withhold(lot=lot, reason=reason, by=by)


def _what_points_at(lot: Lot) -> list[Any]:
    """The models with rows about the lot that the import did not write."""
    return [
        relation.related_model
        for relation in lot._meta.related_objects
        if (relation.get_accessor_name() or "") not in OWN
        and relation.related_model._base_manager.filter(**{relation.field.name: lot}).exists()
    ]


def _names_grams(heading: str) -> bool:
    words = set(fold(heading).split())
    return bool(words & {"g", "gram", "grams", "gramm", "weight", "gewicht", "poids"})
