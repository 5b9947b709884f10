"""Forms about what a household eats and preserves."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy as _

from accounts.models import Garden
from library.catalogue.forms import CropField
from library.catalogue.models import Crop, Variety
from library.growouts.forms.seasons import metres
from library.household.kitchen.tables import products_of, yields_of
from library.household.kitchen.words import product_words, yield_words
from library.household.models import Dish, YieldPer
from library.household.services.kitchen import DISH_FIELDS
from library.lending.forms.fields import MOST, Folding, text, weight, whole


class MarginForm(forms.Form):
    margin_percent = whole(
        _("Margin for a bad year, %"),
        required=True,
        help_text=_("So much more than is eaten. Harvests vary widely from year to year."),
    )


class NewKitchenForm(MarginForm):
    garden = forms.ModelChoiceField(
        label=_("Garden"), queryset=Garden.objects.none(), empty_label=None
    )
    year = forms.IntegerField(
        label=_("Season"),
        min_value=1900,
        max_value=MOST,
        help_text=_("The year in which its spring falls."),
        widget=forms.NumberInput(attrs={"inputmode": "numeric", "class": "short"}),
    )
    field_order = ["garden", "year"]

    def __init__(self, *args: Any, gardens: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice = self.fields["garden"]
        assert isinstance(choice, forms.ModelChoiceField)  # noqa: S101  # as declared above
        choice.queryset = gardens
        self.fields["margin_percent"].initial = 0


class CropForm(forms.Form):
    crop = CropField(empty_label=_("choose one"))


class DishForm(Folding):
    """Of one crop: as what, how much, how often, and what one knows better than the tables."""

    product = forms.ChoiceField(label=_("As"), required=False)
    amount = weight(
        _("How much each time"),
        places=2,
        help_text=_("Jars, or pounds dried; of what is eaten fresh, kilograms."),
    )
    times = whole(
        _("Times a year"),
        required=True,
        least=1,
        help_text=_("52 for each week."),
    )
    variety = forms.ModelChoiceField(
        label=_("Variety"),
        queryset=Variety.objects.none(),
        required=False,
        empty_label=_("not decided"),
    )
    save_seed = forms.BooleanField(label=_("I save seed of it too"), required=False)
    yield_key = forms.ChoiceField(
        label=_("Harvest by the tables"),
        required=False,
        help_text=_("They differ widely: take the one that is more like your garden."),
    )
    own_yield_kg = weight(_("or my own harvest, kg"))
    own_yield_per = forms.ChoiceField(label=_("My harvest is"), choices=YieldPer.choices)
    own_kg_each = weight(
        _("Fresh produce for one jar or pound, kg"),
        help_text=_("Empty: as the tables say."),
    )
    own_between_rows_cm = whole(_("Between rows, cm"))
    own_in_row_cm = whole(_("In the row, cm"))
    note = text(_("Note"), most=500)

    folds: ClassVar = [
        (
            _("What I know better than the tables"),
            (
                "yield_key",
                "own_yield_kg",
                "own_yield_per",
                "own_kg_each",
                "own_between_rows_cm",
                "own_in_row_cm",
                "note",
            ),
        )
    ]

    def __init__(self, *args: Any, crop: Crop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        products = [(one.key, product_words(one)) for one in products_of(crop.name)]
        self._choices("product", [("", _("eaten fresh, in kilograms")), *products])
        figures = [(one.key, yield_words(one)) for one in yields_of(crop.name)]
        first = _("the smallest of these") if figures else _("none is in the tables")
        self._choices("yield_key", [("", first), *figures])
        field = self.fields["variety"]
        assert isinstance(field, forms.ModelChoiceField)  # noqa: S101  # as declared above
        field.queryset = Variety.objects.filter(crop=crop).order_by("folded_name", "pk")
        self.fields["amount"].required = True

    def _choices(self, name: str, choices: list[tuple[str, Any]]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101  # as declared above
        field.choices = choices


class TakeOverForm(forms.Form):
    """Only asked where the garden has no list of seed for that year yet."""

    room_m2 = metres(_("Room for seed crops, in square metres"))


def dish_initial(dish: Dish) -> dict[str, Any]:
    return {name: getattr(dish, name) for name in DISH_FIELDS}
