"""What the owner plans for their own garden."""

from __future__ import annotations

from types import SimpleNamespace

from library.household.services import kitchen, saving


def plan_a_household(things: SimpleNamespace, members: dict) -> None:
    owner = members["owner"]
    things.saving_plan = saving.make_plan(garden=things.garden, year=2027, by=owner, room_m2=40)
    (things.saved,) = saving.add_varieties(
        plan=things.saving_plan, varieties=[things.variety], by=owner
    )
    things.kitchen = kitchen.make_plan(garden=things.garden, year=2027, by=owner)
    things.dish = kitchen.add_dish(
        plan=things.kitchen,
        crop=things.crop,
        by=owner,
        variety=things.variety,
        amount=12,
        save_seed=True,
    )
    tomato = things.loan.packet.lot.variety
    kitchen.add_dish(
        plan=things.kitchen,
        crop=tomato.crop,
        by=owner,
        amount=1,
        variety=tomato,
        save_seed=True,
    )
