"""What a household eats and preserves, and taking it over into the garden's list of seed."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal, InvalidOperation
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Garden, Member
from library.catalogue.models import Crop, Variety
from library.errors import Conflict, Refused
from library.growouts.services.checks import a_year, locked_member, number, own_garden
from library.household.kitchen.tables import product_named, yield_named
from library.household.models import Dish, KitchenPlan, SavedVariety, SavingPlan, YieldPer
from library.household.services import saving
from library.stock.services.checks import fits

MOST_PLANS = 100  # of one member
MOST_DISHES = 100  # of one plan
MOST_AMOUNT = Decimal(99_999)
MOST_TIMES = 1_000
MOST_KG = Decimal(9_999)
MOST_CM = 1_000
EMPTY = (None, "")
DISH_FIELDS = (
    "variety",
    "product",
    "amount",
    "times",
    "own_kg_each",
    "yield_key",
    "own_yield_kg",
    "own_yield_per",
    "own_between_rows_cm",
    "own_in_row_cm",
    "save_seed",
    "note",
)


@transaction.atomic
def make_plan(*, garden: Garden, year: int, by: Member, margin_percent: int = 0) -> KitchenPlan:
    """A year's kitchen of a garden. Raises Conflict where there is one already."""
    own_garden(garden, by)
    locked_member(by)
    if not Garden.objects.filter(pk=garden.pk).exists():
        raise Conflict(_("This garden was removed."), field="garden")
    if KitchenPlan.objects.of(by).count() >= MOST_PLANS:
        raise Refused(
            _("At most %(most)s plans are kept of one member. Remove an old one.")
            % {"most": MOST_PLANS}
        )
    plan = KitchenPlan(garden=garden, year=a_year(year))
    if KitchenPlan.objects.filter(garden=garden, year=plan.year).exists():
        raise Conflict(
            _("There is a kitchen plan for “%(garden)s” in %(year)s already.")
            % {"garden": garden.name, "year": plan.year},
            field="year",
        )
    plan.margin_percent = _margin(margin_percent)
    plan.save()
    return plan


@transaction.atomic
def change_plan(*, plan: KitchenPlan, by: Member, margin_percent: int) -> KitchenPlan:
    """Change the margin; garden and year of a plan stay."""
    plan = _locked(plan, by)
    plan.margin_percent = _margin(margin_percent)
    plan.save()
    return plan


@transaction.atomic
def remove_plan(*, plan: KitchenPlan, by: Member) -> None:
    """The plan and all its dishes."""
    _locked(plan, by).delete()


@transaction.atomic
def add_dish(*, plan: KitchenPlan, crop: Crop, by: Member, **facts: Any) -> Dish:
    """Something that is eaten or preserved, of a crop; see ``Dish`` for the facts."""
    plan = _locked(plan, by)
    if plan.dishes.count() >= MOST_DISHES:
        raise Refused(
            _("At most %(most)s dishes are kept in one plan.") % {"most": MOST_DISHES}
        )
    dish = Dish(plan=plan, crop=crop)
    _set(dish, {name: getattr(dish, name) for name in DISH_FIELDS}, facts)
    dish.save()
    return dish


@transaction.atomic
def change_dish(*, dish: Dish, by: Member, **facts: Any) -> Dish:
    """Change what is given; its crop stays."""
    _locked(dish.plan, by)
    row = Dish.objects.select_related("crop", "variety").filter(pk=dish.pk).first()
    if row is None:
        raise Conflict(_("This was removed."))
    _set(row, {name: getattr(row, name) for name in DISH_FIELDS}, facts)
    row.save()
    return row


@transaction.atomic
def remove_dish(*, dish: Dish, by: Member) -> None:
    """Removing it twice is no mistake."""
    _locked(dish.plan, by)
    Dish.objects.filter(pk=dish.pk).delete()


@transaction.atomic
def take_over(
    *,
    plan: KitchenPlan,
    by: Member,
    plants: dict[int, int],
    room_m2: Any = None,
) -> tuple[SavingPlan, list[SavedVariety]]:
    """Put the varieties of which seed is to be saved on the garden's list of seed.

    ``plants`` are by variety: those that give seed. A variety that stands on the list already
    keeps what it says there. Without a list one is made with ``room_m2``. Raises Refused when
    seed is to be saved of nothing.
    """
    plan = _locked(plan, by)
    wanted = _to_save(plan)
    if not wanted:
        raise Refused(
            _("Choose the variety of a dish and tick that seed is saved of it; then it goes.")
        )
    there = SavingPlan.objects.filter(garden=plan.garden, year=plan.year).first()
    if there is None:
        there = saving.make_plan(garden=plan.garden, year=plan.year, by=by, room_m2=room_m2)
    added = saving.add_varieties(plan=there, varieties=wanted, by=by)
    changed = [
        saving.change_choice(choice=choice, by=by, plants=plants[choice.variety_id])
        if plants.get(choice.variety_id)
        else choice
        for choice in added
    ]
    return there, changed


def _to_save(plan: KitchenPlan) -> Iterable[Variety]:
    rows = plan.dishes.filter(save_seed=True, variety__isnull=False)
    return list(Variety.objects.filter(pk__in=rows.values("variety")).order_by("pk"))


def _locked(plan: KitchenPlan, by: Member) -> KitchenPlan:
    """The plan as it is now; its member is locked, so that one writer at a time counts."""
    own_garden(plan.garden, by)
    locked_member(by)
    found = KitchenPlan.objects.select_related("garden__member").filter(pk=plan.pk).first()
    if found is None:
        raise Conflict(_("This plan was removed."))
    return found


def _set(dish: Dish, known: dict[str, Any], facts: dict[str, Any]) -> None:
    for name in facts:
        if name not in known:
            raise Refused(_("“%(field)s” is not kept here.") % {"field": name}, field=name)
    told = known | facts
    dish.variety = _of_crop(told["variety"], dish.crop)
    dish.amount = _above_nothing(told["amount"], "amount", MOST_AMOUNT, "0.01")
    dish.times = number(told["times"], field="times", least=1, most=MOST_TIMES)
    dish.product = _named(told["product"], dish.crop, product_named, "product")
    dish.yield_key = _named(told["yield_key"], dish.crop, yield_named, "yield_key")
    dish.own_kg_each = _kg(told["own_kg_each"], "own_kg_each")
    dish.own_yield_kg = _kg(told["own_yield_kg"], "own_yield_kg")
    if told["own_yield_per"] not in YieldPer.values:
        raise Refused(
            _("Choose one of: %(ways)s.") % {"ways": ", ".join(YieldPer.values)},
            field="own_yield_per",
        )
    dish.own_yield_per = told["own_yield_per"]
    between = _cm(told["own_between_rows_cm"], "own_between_rows_cm")
    in_row = _cm(told["own_in_row_cm"], "own_in_row_cm")
    if (between is None) != (in_row is None):
        missing = "own_between_rows_cm" if between is None else "own_in_row_cm"
        raise Refused(
            _("Give both distances, between rows and in the row, or neither."), field=missing
        )
    dish.own_between_rows_cm, dish.own_in_row_cm = between, in_row
    dish.save_seed = bool(told["save_seed"])
    dish.note = fits(told["note"], field="note", most=500)


def _of_crop(variety: Variety | None, crop: Crop) -> Variety | None:
    if variety is not None and variety.crop_id != crop.pk:
        raise Refused(
            _("%(variety)s is no %(crop)s.")
            % {"variety": variety.name, "crop": crop.local_name},
            field="variety",
        )
    return variety


def _named(key: Any, crop: Crop, find: Any, field: str) -> str:
    key = str(key or "")
    if key and find(crop.name, key) is None:
        raise Refused(
            _("The tables have no such row for %(crop)s.") % {"crop": crop.local_name},
            field=field,
        )
    return key


def _kg(value: Any, field: str) -> Decimal | None:
    return None if value in EMPTY else _above_nothing(value, field, MOST_KG, "0.001")


def _above_nothing(value: Any, field: str, most: Decimal, step: str) -> Decimal:
    try:
        told = Decimal(str(value))
    except InvalidOperation:
        told = Decimal("NaN")
    is_fit = told.is_finite() and abs(told) <= most
    rounded = told.quantize(Decimal(step)) if is_fit else Decimal(0)
    if rounded <= 0:
        raise Refused(_("Give a number above 0, up to %(most)s.") % {"most": most}, field=field)
    return rounded


def _cm(value: Any, field: str) -> int | None:
    return None if value in EMPTY else number(value, field=field, least=1, most=MOST_CM)


def _margin(value: Any) -> int:
    return number(value, field="margin_percent", least=0, most=500)
