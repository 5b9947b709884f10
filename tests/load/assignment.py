"""Plans for whole seasons, beside the two ways of making them by hand.

``python -m tests.load.assignment [--seconds 60] [40x60 150x150 500x600 500x2000]``

Instances are invented from a random seed: gardens scattered over a countryside, species with
the pollination, distances and minimum populations of the reference table, growers of uneven
luck who want one to three varieties, own plantings, and some who can bag or cage.
"""

from __future__ import annotations

import argparse
import csv
import math
import random
import resource
import time
from pathlib import Path

from library.science.assignment import (
    Grower,
    OfferedGarden,
    Planting,
    Season,
    WantedVariety,
    assign,
    everyone_first,
    possible_pairs,
    rarest_first,
)
from library.science.isolation import Pollination, Technique

SPECIES = Path(__file__).parents[2] / "fixtures" / "reference" / "species.csv"
KM_PER_GARDEN = 1.4  # side of the square that holds one garden
LATITUDE, LONGITUDE = 54.2, -2.9
METRES_NORTH = 111_320.0


def species_rows() -> list[dict[str, str]]:
    with SPECIES.open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["min_population_maintain"].strip()]
    return [row for row in rows if row["pollination"] in set(Pollination)]


def make_season(varieties: int, gardens: int, seed: int) -> Season:
    """An invented season of so many varieties and gardens."""
    chance = random.Random(seed)
    species = species_rows()
    side_m = math.sqrt(gardens) * KM_PER_GARDEN * 1000
    growers = [
        Grower(key=f"r{i}", most=chance.choice([1, 1, 2, 3]), success=chance.betavariate(5, 2))
        for i in range(max(1, gardens * 9 // 10))
    ]
    return Season(
        varieties=tuple(_variety(chance, i, chance.choice(species)) for i in range(varieties)),
        gardens=tuple(_garden(chance, i, growers, side_m) for i in range(gardens)),
        growers=tuple(growers),
        plantings=tuple(
            _planting(chance, chance.choice(species), side_m) for _ in range(gardens // 2)
        ),
    )


def _variety(chance: random.Random, i: int, row: dict[str, str]) -> WantedVariety:
    metres = row["isolation_m_home"].strip()
    return WantedVariety(
        key=f"v{i}",
        species=row["botanical_name"],
        pollination=Pollination(row["pollination"]),
        isolation_m=float(metres) if metres else None,
        plants=int(float(row["min_population_maintain"])),
        plants_per_m2=chance.choice([1, 4, 9, 16]),
        days=chance.randint(90, 165),
        seasons=2 if "biennial" in row["life_cycle"] else 1,
        loss=round(chance.betavariate(1.2, 4), 4),
        most_growers=chance.choice([1, 2, 2]),
    )


def _place(chance: random.Random, side_m: float) -> dict[str, float]:
    north, east = chance.uniform(0, side_m), chance.uniform(0, side_m)
    metres_east = METRES_NORTH * math.cos(math.radians(LATITUDE))
    return {
        "latitude": LATITUDE + north / METRES_NORTH,
        "longitude": LONGITUDE + east / metres_east,
    }


def _garden(
    chance: random.Random, i: int, growers: list[Grower], side_m: float
) -> OfferedGarden:
    room = round(chance.lognormvariate(math.log(30), 0.7), 1)
    techniques = {t for t in (Technique.BAG, Technique.CAGE) if chance.random() < 0.15}
    return OfferedGarden(
        key=f"g{i}",
        grower=growers[i % len(growers)].key,
        room_m2=room,
        room_next_m2=round(room * chance.uniform(0.4, 1), 1),
        days=chance.randint(120, 180),
        techniques=frozenset(techniques),
        **_place(chance, side_m),
    )


def _planting(chance: random.Random, row: dict[str, str], side_m: float) -> Planting:
    return Planting(species=row["botanical_name"], variety="own", **_place(chance, side_m))


def run(size: str, seed: int, seconds: float) -> None:
    varieties, gardens = map(int, size.split("x"))
    season = make_season(varieties, gardens, seed)
    started = time.monotonic()
    pairs = possible_pairs(season)
    print(f"\n{size}, seed {seed}: {len(pairs.possible):,} possible pairs, "
          f"{len(pairs.by_variety)} varieties could have a grower "
          f"({time.monotonic() - started:.1f} s)")  # fmt: skip
    print("| way | with a grower | expected loss | s |\n|---|--:|--:|--:|")
    for way in (rarest_first, everyone_first):
        started = time.monotonic()
        chosen = way(pairs).chosen
        covered = len({v for v, _g in chosen})
        took = time.monotonic() - started
        print(f"| {way.__name__} | {covered} | {season.loss_of(chosen):.3f} | {took:.1f} |")
    started = time.monotonic()
    plan = assign(season, seconds=seconds)
    took = time.monotonic() - started
    print(f"| plan ({plan.method}) | {plan.covered} | {plan.loss:.3f} | {took:.1f} |")
    gap = "not known" if plan.gap is None else f"{plan.gap:.2%}"
    print(f"most that can be covered {plan.most_covered}, cost {plan.cost:.4f}, "
          f"bound {plan.bound}, gap {gap}, {'all pairs' if plan.all_pairs else 'pruned'}, "
          f"peak memory {_peak(resource.RUSAGE_SELF):.0f} MB, of the process beside "
          f"{_peak(resource.RUSAGE_CHILDREN):.0f} MB")  # fmt: skip


def _peak(whose: int) -> float:
    return resource.getrusage(whose).ru_maxrss / 1024


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sizes", nargs="*", default=["40x60", "150x150", "500x600", "500x2000"])
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    for size in asked.sizes:
        run(size, asked.seed, asked.seconds)


if __name__ == "__main__":
    main()
