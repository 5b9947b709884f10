"""The list of what to save seed of: its verbs, whose it is, and what becomes of it."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from accounts.export import known_of
from accounts.services import leave, remove_garden
from library.errors import Conflict, Refused
from library.household.models import SavedVariety, SavingPlan
from library.household.services import saving

pytestmark = pytest.mark.django_db


def test_room_is_told_in_square_metres_or_in_plots(garden, member):
    plots = saving.make_plan(garden=garden, year=2027, by=member, plots=3, plot_m2="4.5")

    assert plots.room_m2 == Decimal("13.5")
    changed = saving.change_plan(plan=plots, by=member, room_m2="12", apart_m=8)
    assert (changed.room_m2, changed.apart_m, changed.years_ahead) == (Decimal("12.0"), 8, 6)
    with pytest.raises(Refused, match="not both"):
        saving.make_plan(garden=garden, year=2028, by=member, room_m2=3, plots=3, plot_m2=4)


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"room_m2": None}, "room_m2"),
        ({"room_m2": 0}, "room_m2"),
        ({"room_m2": "1e999"}, "room_m2"),
        ({"room_m2": "much"}, "room_m2"),
        ({"year": 10**30}, "year"),
        ({"year": "next"}, "year"),
        ({"apart_m": -1}, "apart_m"),
        ({"years_ahead": 16}, "years_ahead"),
        ({"years_ahead": 0}, "years_ahead"),
        ({"chance_percent": 49}, "chance_percent"),
        ({"chance_percent": 96}, "chance_percent"),
    ],
)
def test_figures_that_cannot_be_are_refused_and_nothing_is_kept(garden, member, told, field):
    with pytest.raises(Refused) as refusal:
        saving.make_plan(**{"garden": garden, "year": 2027, "by": member, "room_m2": 10} | told)

    assert refusal.value.field == field
    assert not SavingPlan.objects.exists()


def test_a_garden_has_one_list_for_a_season(plan, garden, member):
    with pytest.raises(Conflict, match="There is a list for “Mill Lane plot” in 2026"):
        saving.make_plan(garden=garden, year=2026, by=member, room_m2=10)


def test_a_variety_stands_on_it_once_and_is_sown_from_home_where_it_can_be(
    plan, member, variety, make_variety, make_home_lot, make_lot
):
    old = make_home_lot(variety, on=dt.date(2024, 10, 1), harvest_year=2024)
    new = make_home_lot(variety)
    make_lot(variety)  # the library's
    other = make_variety()

    first = saving.add_varieties(plan=plan, varieties=[variety, other, variety], by=member)
    again = saving.add_varieties(plan=plan, varieties=[variety], by=member)

    assert [row.lot for row in first] == [new, None]
    assert again == []
    choice = saving.change_choice(choice=first[0], by=member, lot=old, plants=12, note=" x ")
    assert (choice.lot, choice.plants, choice.note, choice.technique) == (old, 12, "x", "none")


def test_what_cannot_be_of_a_variety_is_refused(put, member, variety, make_variety, make_lot):
    choice = put(variety)
    foreign, elses = make_lot(variety), make_lot(make_variety(), custodian=member)
    wrong = [
        ({"lot": foreign}, "lot"),
        ({"lot": elses}, "lot"),
        ({"plants": 0}, "plants"),
        ({"plants": 10**9}, "plants"),
        ({"keeps_years": 51}, "keeps_years"),
        ({"technique": "prayer"}, "technique"),
        ({"note": "x" * 501}, "note"),
        ({"plan": None}, "plan"),
    ]
    for told, field in wrong:
        with pytest.raises(Refused) as refusal:
            saving.change_choice(choice=choice, by=member, **told)
        assert refusal.value.field == field
    assert SavedVariety.objects.get() == choice


def test_so_many_stand_on_a_list_and_no_more(plan, member, make_variety, monkeypatch):
    monkeypatch.setattr(saving, "MOST_CHOICES", 2)
    varieties = [make_variety() for _n in range(3)]

    with pytest.raises(Refused, match="At most 2 varieties"):
        saving.add_varieties(plan=plan, varieties=varieties, by=member)

    assert not SavedVariety.objects.exists()


def test_nobody_else_touches_it_and_what_is_gone_is_said(
    plan, put, variety, other_member, coordinator, member
):
    choice = put(variety)
    for by in (other_member, coordinator):
        for verb in (
            lambda by=by: saving.change_plan(plan=plan, by=by, room_m2=1),
            lambda by=by: saving.remove_plan(plan=plan, by=by),
            lambda by=by: saving.add_varieties(plan=plan, varieties=[variety], by=by),
            lambda by=by: saving.change_choice(choice=choice, by=by, plants=3),
            lambda by=by: saving.drop_choice(choice=choice, by=by),
        ):
            with pytest.raises(Refused, match="not a garden of this member"):
                verb()
    saving.drop_choice(choice=choice, by=member)
    saving.drop_choice(choice=choice, by=member)
    with pytest.raises(Conflict, match="taken off"):
        saving.change_choice(choice=choice, by=member, plants=3)
    saving.remove_plan(plan=plan, by=member)
    with pytest.raises(Conflict, match="This list was removed"):
        saving.add_varieties(plan=plan, varieties=[variety], by=member)


def test_it_is_in_the_members_own_copy_and_goes_when_they_leave(
    plan, put, variety, member, other_member, coordinator
):
    put(variety, technique="cage", keeps_years=4, note="behind the shed")

    mine = known_of(member)["household"]
    assert mine["lists"][0]["garden__name"] == "Mill Lane plot"
    assert mine["varieties"][0]["technique"] == "cage"
    assert mine["varieties"][0]["note"] == "behind the shed"
    theirs = known_of(other_member)["household"]
    assert [theirs["lists"], theirs["varieties"]] == [[], []]

    leave(member=member, by=member, keep_name=True)

    assert not SavingPlan.objects.exists()
    assert not SavedVariety.objects.exists()


def test_it_goes_with_its_garden(plan, put, variety, garden, member):
    put(variety)

    remove_garden(garden=garden, by=member)

    assert not SavedVariety.objects.exists()
