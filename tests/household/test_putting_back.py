"""What was taken away with one press comes back with one press, as it was, to nobody else."""

from __future__ import annotations

import pytest
from django.forms.models import model_to_dict
from django.urls import reverse

from library.catalogue.models import Crop
from library.errors import Conflict
from library.household.models import Dish, KitchenPlan, SavedVariety, SavingPlan
from library.household.services import kitchen, saving
from library.household.services.putting_back import as_kept, put_back

pytestmark = pytest.mark.django_db


def household() -> dict[str, list[dict]]:
    """Every row of the household's plans, whole."""
    models = (SavingPlan, SavedVariety, KitchenPlan, Dish)
    return {
        model.__name__: [model_to_dict(row) for row in model.objects.order_by("pk")]
        for model in models
    }


@pytest.fixture
def choice(put, variety):
    return put(variety, technique="bag", plants=12, note="by the wall")


@pytest.fixture
def dish(garden, member, reference):
    plan = kitchen.make_plan(garden=garden, year=2026, by=member, margin_percent=10)
    crop = Crop.objects.get(slug="tomato")
    return kitchen.add_dish(plan=plan, crop=crop, by=member, amount="3.5", times=4)


@pytest.fixture
def things(choice, dish):
    """By the name of the address that takes it away."""
    return {
        "own-garden-remove": choice.plan,
        "own-garden-drop": choice,
        "kitchen-remove": dish.plan,
        "kitchen-dish-remove": dish,
    }


def press(client, address: str):
    return client.post(address, follow=True).content.decode()


@pytest.mark.parametrize(
    "takes_away",
    ["own-garden-remove", "own-garden-drop", "kitchen-remove", "kitchen-dish-remove"],
)
def test_one_press_takes_it_away_and_another_puts_it_back(client, member, things, takes_away):
    client.force_login(member)
    before, back = household(), reverse("own-garden-put-back")

    page = press(client, reverse(takes_away, args=[things[takes_away].pk]))

    assert household() != before
    assert f'<form method="post" action="{back}">' in page
    assert "It is back, as it was." in press(client, back)
    assert household() == before
    assert "There is nothing to put back any more." in press(client, back)


def test_only_what_was_taken_away_last_comes_back(client, member, things):
    client.force_login(member)
    press(client, reverse("own-garden-drop", args=[things["own-garden-drop"].pk]))
    press(client, reverse("kitchen-dish-remove", args=[things["kitchen-dish-remove"].pk]))

    press(client, reverse("own-garden-put-back"))

    assert Dish.objects.exists()
    assert not SavedVariety.objects.exists()


def test_another_session_has_nothing_to_put_back(client, member, other_member, things):
    client.force_login(member)
    press(client, reverse("own-garden-remove", args=[things["own-garden-remove"].pk]))
    client.force_login(other_member)

    page = press(client, reverse("own-garden-put-back"))

    assert "There is nothing to put back any more." in page
    assert not SavingPlan.objects.exists()


def test_where_its_place_is_taken_nothing_is_put_back(choice, member, garden):
    kept = as_kept(choice.plan)
    saving.remove_plan(plan=choice.plan, by=member)
    saving.make_plan(garden=garden, year=choice.plan.year, by=member, room_m2=5)
    before = household()

    with pytest.raises(Conflict, match="Its place is taken by now"):
        put_back(kept=kept, by=member)

    assert household() == before


def test_a_line_does_not_come_back_without_its_list(choice, member):
    kept = as_kept(choice)
    saving.remove_plan(plan=choice.plan, by=member)

    with pytest.raises(Conflict, match="is gone"):
        put_back(kept=kept, by=member)


def test_half_a_list_does_not_come_back(choice, member):
    """Its one line names a variety that is no longer in the catalogue."""
    kept = as_kept(choice.plan).replace(
        f'"variety": {choice.variety_id}', f'"variety": {choice.variety_id + 1000}'
    )
    saving.remove_plan(plan=choice.plan, by=member)

    with pytest.raises(Conflict):
        put_back(kept=kept, by=member)

    assert not SavingPlan.objects.exists()


def test_nobody_puts_anything_into_anothers_garden(choice, member, other_member):
    kept = as_kept(choice.plan)
    saving.remove_plan(plan=choice.plan, by=member)

    with pytest.raises(Conflict, match="is gone"):
        put_back(kept=kept, by=other_member)

    assert not SavingPlan.objects.exists()
