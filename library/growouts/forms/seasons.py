"""Forms about seasons, what they renew, and what growers offer and grow."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from accounts.models import Garden
from library.catalogue.forms import CropField
from library.catalogue.models import Variety
from library.errors import Refused
from library.growouts.models import GardenOffer, GrowerOffer, OwnPlanting, Season
from library.growouts.services.rooms import Room, later_metres, square_metres
from library.lending.forms.fields import MOST, text, whole
from library.lending.services import known_as
from library.stock.service_pages import number_asked

DAY = {"type": "date"}


def metres(label: Any, *, help_text: Any = "") -> forms.DecimalField:
    return forms.DecimalField(
        label=label,
        help_text=help_text,
        required=False,
        max_digits=12,
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "class": "short", "min": 0}),
    )


# The season -------------------------------------------------------------------------------


class ChangeSeasonForm(forms.Form):
    offers_until = forms.DateField(
        label=_("Growers may offer gardens until"),
        required=False,
        help_text=_("Empty: as long as the season is open."),
        widget=forms.DateInput(attrs=DAY, format="%Y-%m-%d"),
    )
    note = text(_("A word to the growers"), most=4000, rows=4)


class NewSeasonForm(ChangeSeasonForm):
    year = whole(
        _("Year"), required=True, help_text=_("The year in which its spring falls."), least=1900
    )
    field_order = ["year"]


# What it renews ---------------------------------------------------------------------------


class WantedFilterForm(forms.Form):
    """Which varieties to choose from."""

    q = forms.CharField(
        label=_("Name"), required=False, max_length=120, widget=forms.SearchInput()
    )
    crop = CropField(required=False, empty_label=_("every crop"))
    show = forms.ChoiceField(
        label=_("Show"),
        required=False,
        choices=[
            ("", _("all")),
            ("open", _("not chosen yet")),
            ("wanted", _("chosen")),
            ("rare", _("rare")),
        ],
    )

    def asked(self) -> dict[str, Any]:
        """What was asked and could be read."""
        self.is_valid()
        return self.cleaned_data


class TickedVarieties(forms.Field):
    """The varieties whose boxes were ticked; what is no variety is a mistake."""

    widget = forms.SelectMultiple

    def clean(self, value: Any) -> list[Variety]:
        asked = {number_asked(str(each)) for each in value or ()}
        keys = [number for number in asked if number is not None]
        found = list(Variety.objects.filter(pk__in=keys).order_by("pk"))
        if len(found) < len(asked):
            raise forms.ValidationError(_("One of these varieties is not in the catalogue."))
        return found


class WantedForm(forms.Form):
    """Boxes that were ticked, and what is to be done with them."""

    act = forms.ChoiceField(choices=[("want", ""), ("drop", "")], required=False)
    varieties = TickedVarieties(label=_("Varieties"))
    weight = forms.DecimalField(
        label=_("How much the loss of each counts"),
        initial=1,
        max_digits=12,
        help_text=_("1 for a variety like any other, 2 for one twice as dear."),
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "class": "short"}),
    )
    most_growers = whole(_("Growers of each at most"), required=True, least=1)
    why = text(_("Why"), most=250)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["most_growers"].initial = 2
        if self.data.get("act") == "drop":
            for name in ("weight", "most_growers"):
                self.fields[name].required = False


# What a grower offers ---------------------------------------------------------------------

GARDEN_FIELDS = (
    "room_m2",
    "plots",
    "plot_m2",
    "room_next_m2",
    "can_cage",
    "can_bag",
    "can_pollinate_by_hand",
)


@dataclass(frozen=True)
class GardenPart:
    """The fields of one garden, and what should be known of it before it is offered."""

    garden: Garden
    tick: forms.BoundField
    metres: list[forms.BoundField]
    later: forms.BoundField
    techniques: list[forms.BoundField]

    @property
    def has_no_place(self) -> bool:
        return self.garden.placed != Garden.Placed.EXACT or self.garden.latitude is None

    @property
    def has_no_frosts(self) -> bool:
        return self.garden.season is None


class OfferForm(forms.Form):
    """How many varieties, wishes, and for each garden whether and how much of it."""

    most = whole(
        _("How many varieties at most"),
        required=True,
        least=1,
        help_text=_("Over all your gardens. You are asked about each before it is yours."),
    )
    wishes = text(
        _("What you would like, or rather not"),
        most=2000,
        rows=3,
        help_text=_("Coordinators read this when they plan."),
    )

    def __init__(
        self, *args: Any, gardens: Iterable[Garden], offer: GrowerOffer | None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.gardens = list(gardens)
        stands = offer is not None and offer.withdrawn_at is None
        rooms = {room.garden_id: room for room in offer.gardens.all()} if offer else {}
        self.fields["most"].initial = offer.most if offer else 1
        self.fields["wishes"].initial = offer.wishes if offer else ""
        for garden in self.gardens:
            told = rooms.get(garden.pk)
            ticked = (told is not None and stands) or (offer is None and len(self.gardens) == 1)
            self._add(garden, told, ticked=ticked)

    def _add(self, garden: Garden, told: GardenOffer | None, *, ticked: bool) -> None:
        fields: dict[str, forms.Field] = {
            "offered": forms.BooleanField(
                label=_("Offer “%(name)s”") % {"name": garden.name}, required=False
            ),
            "room_m2": metres(_("Room in square metres")),
            "plots": whole(_("or plots: how many")),
            "plot_m2": metres(_("of so many square metres each")),
            "room_next_m2": metres(
                _("Of it, m² that may stay taken for a second season"),
                help_text=_(
                    "Carrots, kale or leeks give seed in their second year. Empty: all of it; "
                    "0: nothing."
                ),
            ),
            "can_cage": forms.BooleanField(
                label=_("I can build a cage over plants"), required=False
            ),
            "can_bag": forms.BooleanField(
                label=_("I can put bags over flowers"), required=False
            ),
            "can_pollinate_by_hand": forms.BooleanField(
                label=_("I can pollinate by hand"), required=False
            ),
        }
        for name, field in fields.items():
            field.initial = ticked if name == "offered" else getattr(told, name, None)
            self.fields[f"{name}_{garden.pk}"] = field

    @property
    def parts(self) -> list[GardenPart]:
        """The fields, garden by garden."""
        return [
            GardenPart(
                garden,
                self[f"offered_{garden.pk}"],
                [self[f"{name}_{garden.pk}"] for name in GARDEN_FIELDS[:3]],
                self[f"room_next_m2_{garden.pk}"],
                [self[f"{name}_{garden.pk}"] for name in GARDEN_FIELDS[4:]],
            )
            for garden in self.gardens
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for garden in self.gardens:
            if data.get(f"offered_{garden.pk}"):
                self._check_room(garden)
        return data

    def _check_room(self, garden: Garden) -> None:
        """Say at the garden's own field what the service would say of its room."""
        told = self._told(garden)
        later = told.pop("room_next_m2")
        if any(self.has_error(f"{name}_{garden.pk}") for name in GARDEN_FIELDS[:4]):
            return
        try:
            square_metres(**{name: told[name] for name in GARDEN_FIELDS[:3]})
            later_metres(later)
        except Refused as refusal:
            self.add_error(f"{refusal.field}_{garden.pk}", str(refusal))

    def _told(self, garden: Garden) -> dict[str, Any]:
        return {name: self.cleaned_data.get(f"{name}_{garden.pk}") for name in GARDEN_FIELDS}

    def rooms(self) -> list[Room]:
        """What the service is told of the gardens that were ticked."""
        return [
            Room(garden, **self._told(garden))
            for garden in self.gardens
            if self.cleaned_data.get(f"offered_{garden.pk}")
        ]


# What somebody grows for themselves -------------------------------------------------------


class PlantingForm(forms.Form):
    crop = CropField(empty_label=_("choose one"))
    name = forms.CharField(
        label=_("Name of the variety"),
        max_length=120,
        help_text=_(
            "As you know it. One that the catalogue knows is found; any other is kept as you "
            "write it, for you and the coordinators."
        ),
        widget=forms.TextInput(attrs={"autocomplete": "off", "list": "names"}),
    )
    garden = forms.ModelChoiceField(
        label=_("Garden"), queryset=Garden.objects.none(), empty_label=None
    )
    year = forms.IntegerField(
        label=_("Year"),
        min_value=1900,
        max_value=MOST,
        widget=forms.NumberInput(attrs={"inputmode": "numeric", "class": "short"}),
    )
    flowers = forms.BooleanField(
        label=_("It will flower"),
        required=False,
        initial=True,
        help_text=_("Cabbage cut before it bolts does not, nor lettuce eaten young."),
    )
    for_seed = forms.BooleanField(label=_("I want to save seed of it"), required=False)
    plants = whole(_("Plants"), least=1)
    room_m2 = metres(_("Room in square metres"))
    note = text(_("Note"), most=500)

    def __init__(self, *args: Any, gardens: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice = self.fields["garden"]
        assert isinstance(choice, forms.ModelChoiceField)  # noqa: S101  # as declared above
        choice.queryset = gardens

    def planted(self) -> dict[str, Any]:
        """What the service is told, but for the garden."""
        data = dict(self.cleaned_data)
        del data["garden"]
        crop, name = data.pop("crop"), data.pop("name")
        variety = known_as(name, crop)
        if variety is not None:
            return data | {"variety": variety, "name": ""}
        return data | {"variety": None, "species": crop.species, "name": name}


def planting_initial(planting: OwnPlanting) -> dict[str, Any]:
    """What the form of a planting begins with."""
    known = planting.variety
    crop = known.crop_id if known else planting.species.crops.values_list("pk").first()
    names = ("garden", "year", "flowers", "for_seed", "plants", "room_m2", "note")
    facts = {name: getattr(planting, name) for name in names}
    return facts | {"name": known.name if known else planting.name, "crop": crop}


def season_initial(season: Season) -> dict[str, Any]:
    return {"offers_until": season.offers_until, "note": season.note}
