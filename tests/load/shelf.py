"""Members, varieties, lots and packets in bulk, as the services would leave them.

Imported only once the stage is set.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from django.db import transaction

from accounts.models import Garden, Member, Membership
from accounts.names import name_key
from accounts.roles import Role
from library.catalogue.models import BreedingStatus, Crop, Variety, VarietyName
from library.catalogue.names import fold
from library.germination.models import GerminationTest, LotEstimate, Replicate
from library.science.codes import lot_number, packet_code
from library.stock.models import Lot, Movement, NumberSeries, Packet

SEALED = dt.date(2026, 1, 10)
SEEDS_EACH = 20
LOOSE = 5_000
FIRST = (
    "Alder",
    "Brook",
    "Copper",
    "Dusk",
    "Ember",
    "Fell",
    "Gorse",
    "Hazel",
    "Iron",
    "Juniper",
)
SECOND = (
    "Bell",
    "Crown",
    "Fan",
    "Giant",
    "Heart",
    "Kettle",
    "Lantern",
    "Pearl",
    "Ribbon",
    "Star",
)
CHUNK = 2_000


@transaction.atomic
def fill_members(how_many: int, *, role: str = Role.MEMBER) -> list[Member]:
    """Approved members, each with a garden whose frost dates are known."""
    members = []
    for number in range(how_many):
        name = f"{role} {number}"
        members.append(
            Member(
                email=f"{role}-{number}@example.org",
                display_name=name,
                display_name_key=name_key(name),
                role=role,
                membership=Membership.APPROVED,
            )
        )
    members = Member.objects.bulk_create(members, CHUNK)
    Garden.objects.bulk_create(
        Garden(
            member=member,
            name="Behind the house",
            is_default=True,
            last_spring_frost="05-05",
            first_autumn_frost="10-10",
        )
        for member in members
    )
    return members


@transaction.atomic
def fill_varieties(how_many: int) -> list[Variety]:
    """Cards over all crops, three quarters of them with a synonym."""
    crops = list(Crop.objects.order_by("pk"))
    varieties = Variety.objects.bulk_create(
        (_card(number, crops[number % len(crops)]) for number in range(how_many)), CHUNK
    )
    VarietyName.objects.bulk_create(_names(varieties), CHUNK)
    return varieties


def _card(number: int, crop: Crop) -> Variety:
    first, second = FIRST[number % len(FIRST)], SECOND[number // len(FIRST) % len(SECOND)]
    name = f"{first} {second} {number}"
    return Variety(
        crop=crop,
        name=name,
        folded_name=fold(name),
        breeding_status=BreedingStatus.F1
        if number % 20 == 7
        else BreedingStatus.OPEN_POLLINATED,
        days_to_maturity=50 + number % 90 if number % 3 else None,
        is_rare=number % 9 == 0,
    )


def _names(varieties: list[Variety]) -> Iterator[VarietyName]:
    for number, variety in enumerate(varieties):
        yield VarietyName(
            variety=variety, name=variety.name, folded=variety.folded_name, is_synonym=False
        )
        if number % 4:
            other = f"Old {variety.name}"
            yield VarietyName(variety=variety, name=other, folded=fold(other))


@transaction.atomic
def fill_lots(varieties: list[Variety], *, lots: int, packets: int) -> None:
    """``lots`` of each variety with a full jar and ``packets`` on the shelf; half are tested.

    Each lot's first movements are written too, so that its balance is their sum.
    """
    made = Lot.objects.bulk_create(
        (
            Lot(
                number=lot_number(number + 1),
                variety=varieties[number // lots],
                origin="deposit",
                harvest_year=2025,
                received_on=SEALED,
                loose=LOOSE,
                packed=packets * SEEDS_EACH,
            )
            for number in range(len(varieties) * lots)
        ),
        CHUNK,
    )
    sealed = Packet.objects.bulk_create(
        (
            Packet(
                lot=made[number // packets],
                code=packet_code(number + 1),
                seeds=SEEDS_EACH,
                sealed_on=SEALED,
            )
            for number in range(len(made) * packets)
        ),
        CHUNK,
    )
    _give_out(lot=len(made), packet=len(sealed))
    _write_first_movements(made, packets)
    _test(made[::2])
    _estimate(made)


def _give_out(**series: int) -> None:
    for name, last in series.items():
        NumberSeries.objects.update_or_create(name=name, defaults={"last": last})


def _write_first_movements(lots: list[Lot], packets: int) -> None:
    whole, into_packets = LOOSE + packets * SEEDS_EACH, packets * SEEDS_EACH
    changes = [("received", whole, 0)]
    if packets:
        changes.append(("packed", -into_packets, into_packets))
    Movement.objects.bulk_create(
        (
            Movement(lot=lot, kind=kind, loose_change=loose, packed_change=packed, on=SEALED)
            for lot in lots
            for kind, loose, packed in changes
        ),
        CHUNK,
    )


def _test(lots: list[Lot]) -> None:
    """A closed test of two dishes for each lot, 80 to 99 % normal."""
    tests = GerminationTest.objects.bulk_create(
        (
            GerminationTest(lot=lot, state="closed", started_on=SEALED, closed_on=SEALED)
            for lot in lots
        ),
        CHUNK,
    )
    Replicate.objects.bulk_create(
        (
            Replicate(
                test=test, number=dish, seeds=50, normal=40 + number % 10, dead=10 - number % 10
            )
            for number, test in enumerate(tests)
            for dish in (1, 2)
        ),
        CHUNK,
    )


def _estimate(lots: list[Lot]) -> None:
    """The estimate that is kept of each lot, whether it was tested or not."""
    LotEstimate.objects.bulk_create(
        (
            LotEstimate(
                lot=lot,
                on=SEALED,
                low=0.7,
                median=0.8 + number % 10 / 50,
                high=1,
                chance=0.95,
                standard_percent=70,
                evidence=[[number // 2, 80, 100]] if number % 2 == 0 else [],
            )
            for number, lot in enumerate(lots)
        ),
        CHUNK,
    )
