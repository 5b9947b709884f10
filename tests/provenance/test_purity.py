"""Each stand of a chain judged, and the chain as good as its weakest link."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from library.provenance.chain import chain_up
from library.provenance.purity import details_for_coordinator, judge
from library.science.isolation import distance_m
from library.science.purity import Grade

PLAIN = "Another planting of the species that the library knows of was nearer than is needed."

pytestmark = pytest.mark.usefixtures("november")


def judged(lot):
    return judge(chain_up(lot), for_coordinator=True)


def test_a_chain_is_as_good_as_its_weakest_link_which_is_named(squash, start, grow):
    first = start(squash)
    second = grow(first, year=2021, isolation="distance", isolation_distance_m=900)
    third = grow(
        second,
        year=2022,
        isolation="distance",
        isolation_distance_m=200,
        crossing_neighbour="marrows by the ford",
    )
    last = grow(third, year=2023, isolation="hand_pollination")

    purity = judged(last)

    assert {lot: link.grade for lot, link in purity.links.items()} == {
        second.pk: Grade.SAFE,
        third.pk: Grade.WEAK,
        last.pk: Grade.SAFE,
    }
    assert purity.weakest.lot == third
    assert purity.grade is Grade.WEAK
    assert purity.sentence == (
        f"As good as its weakest link, lot {third.number} of 2022: The nearest that could "
        "cross (marrows by the ford) was noted 200 m away, and at least 805 m are needed: "
        "605 m short."
    )
    distances = purity.weakest.distances
    assert distances.required_m == 805
    assert "handout" in distances.home.source


def test_bulked_and_replanted_seed_and_a_part_of_a_jar_grew_nothing(
    squash, start, grow, bulk, make_lot, make_variety
):
    one, two = start(squash), start(squash)
    grown = grow(bulk(one, two), year=2026, isolation="bag")
    part = make_lot(squash, part_of=one, on=dt.date(2026, 11, 20))
    tubers = start(make_variety(crop="potato", breeding_status="clone"), origin="deposit")
    replanted = grow(tubers, year=2022)

    links = judged(grown).links

    assert [link.grade for link in links.values()] == [Grade.NOTHING_GREW, Grade.SAFE]
    assert judged(part).links[part.pk].grade is Grade.NOTHING_GREW
    assert judged(replanted).grade is Grade.NOTHING_GREW
    assert "pollen does not matter" in judged(replanted).links[replanted.pk].sentence


def test_where_a_chain_starts_the_stand_is_judged_if_anything_was_told_of_it(squash, start):
    untold = start(squash)
    told = start(squash, growing={"isolation": "distance", "isolation_distance_m": 30})

    assert judged(untold).links == {}
    assert judged(untold).weakest is None
    assert judged(told).grade is Grade.WEAK


def test_what_nobody_noted_is_said_to_be_unknown(squash, start, grow):
    purity = judged(grow(start(squash), year=2021))

    assert purity.grade is Grade.UNKNOWN
    assert "Nobody noted what kept it from crossing" in purity.sentence
    assert "not known closely enough to look for others near" in purity.sentence


def test_another_planting_that_the_library_knows_of_makes_a_stand_weak(crowded):
    link = judged(crowded()).weakest

    assert link.grade is Grade.WEAK
    assert link.sentence == PLAIN


def test_what_the_grower_noted_is_told_where_it_is_weak_anyway(crowded):
    link = judged(crowded(isolation="distance", isolation_distance_m=20)).weakest

    assert "was noted 20 m away" in link.sentence
    assert link.verdict.nearest.distance_m == 20


@pytest.mark.parametrize(
    "apart",
    [
        {"north_m": 900},
        {"north_m": 0, "there": {"longitude": -3.0870}},  # 844 m to the east
        {"year": 2021},
        {"here": {"placed": "grid"}},
        {"there": {"placed": "grid"}},
        {"isolation": "hand_pollination"},
    ],
)
def test_nothing_is_known_of_what_is_far_or_of_another_year_or_placed_coarsely(crowded, apart):
    assert judged(crowded(**apart)).grade is Grade.SAFE


@pytest.mark.parametrize(
    ("here", "there"),
    [
        ({}, {"longitude": -3.0880}),  # 779 m to the east
        ({"longitude": 179.9999}, {"longitude": -179.9999}),  # across the date line
        ({"latitude": 89.9999, "longitude": 0}, {"latitude": 89.9999, "longitude": 90}),
    ],
)
def test_a_planting_to_the_east_is_near_too_wherever_on_earth(crowded, here, there):
    assert judged(crowded(north_m=0, here=here, there=there)).grade is Grade.WEAK


def test_a_coarse_place_is_said_to_be_too_coarse(crowded):
    assert "not known closely enough" in judged(crowded(here={"placed": "grid"})).sentence


def test_the_same_variety_next_door_is_no_neighbour_to_cross_with(crowded, squash):
    assert judged(crowded(other=squash)).grade is Grade.SAFE


def test_time_does_not_answer_for_a_planting_that_the_grower_need_not_have_known(crowded):
    purity = judged(crowded(isolation="time"))

    assert purity.grade is Grade.UNKNOWN
    assert "another planting of the species" in purity.sentence


def test_another_kind_in_the_same_garden_counts_unless_it_is_the_one_that_was_noted(
    squash, start, grow, make_garden, make_variety
):
    garden = make_garden("Upper Beck plot", placed="grid")
    grow(start(make_variety(crop="pumpkin")), year=2022, garden=garden)
    lot = start(squash)

    noted = {"isolation": "distance", "garden": garden, "year": 2022}
    far = judged(grow(lot, isolation_distance_m=900, **noted)).weakest
    near = judged(grow(lot, isolation_distance_m=40, **noted)).weakest

    assert far.sentence == PLAIN
    assert "was noted 40 m away" in near.sentence


def test_others_are_told_what_was_noted_and_what_grew_in_the_same_garden(
    squash, start, grow, make_garden, make_variety
):
    here = make_garden("Upper Beck plot")
    next_door = make_garden("Lower Beck plot", north_m=80)
    pumpkin = start(make_variety(crop="pumpkin"))
    grow(pumpkin, year=2022, garden=next_door)
    grow(pumpkin, year=2023, garden=here)
    noted = {"isolation": "distance", "isolation_distance_m": 900, "garden": here}
    alone, beside = (grow(start(squash), year=year, **noted) for year in (2022, 2023))

    told = [judge(chain_up(lot), for_coordinator=False) for lot in (alone, beside)]

    assert [purity.grade for purity in told] == [Grade.SAFE, Grade.WEAK]
    assert "for coordinators to look up" in told[0].sentence
    assert PLAIN in told[1].sentence


def test_a_garden_that_was_moved_says_nothing_of_what_grew_there_before(crowded):
    """Else a member could move a garden about, and read where the neighbours are."""
    from accounts.services import edit_garden

    lot = crowded()
    garden = lot.growing.garden
    edit_garden(garden=garden, by=garden.member, name="renamed")
    assert judged(lot).grade is Grade.WEAK

    edit_garden(garden=garden, by=garden.member, latitude=54.40001)

    assert judged(lot).grade is Grade.SAFE
    assert "not known closely enough" in judged(lot).sentence


def test_nor_does_a_neighbouring_garden_that_was_moved(crowded):
    from accounts.models import Garden
    from accounts.services import edit_garden

    lot = crowded()
    neighbour = Garden.objects.get(name="Lower Beck plot")
    edit_garden(garden=neighbour, by=neighbour.member, latitude=54.40002)

    assert judged(lot).grade is Grade.SAFE


def test_a_coordinator_reads_which_planting_it_was_and_how_far(crowded):
    lot = crowded()

    (near,) = details_for_coordinator(chain_up(lot))

    assert near.stand == lot
    assert near.required_m == 805
    assert near.lot.variety.name == "Ford Pumpkin"
    there = near.lot.growing.garden
    assert near.distance_m == pytest.approx(
        distance_m(
            lat1=54.4, lon1=-3.1, lat2=float(there.latitude), lon2=float(there.longitude)
        )
    )
    assert near.distance_m == pytest.approx(80, abs=1)


def test_how_near_a_known_planting_was_does_not_show_in_the_order_of_the_links(
    squash, start, grow, make_garden, make_variety
):
    """Of two weak links the one whose shortfall anybody may read is the weakest."""
    garden = make_garden("Upper Beck plot")
    grow(
        start(make_variety(crop="pumpkin")),
        year=2022,
        garden=make_garden("Lower Beck plot", north_m=1),
    )
    hidden = grow(
        start(squash),
        year=2022,
        garden=garden,
        isolation="distance",
        isolation_distance_m=900,
    )
    noted = grow(hidden, year=2023, isolation="distance", isolation_distance_m=800)

    purity = judged(noted)

    assert purity.links[hidden.pk].grade is purity.links[noted.pk].grade is Grade.WEAK
    assert purity.weakest.lot == noted


@pytest.mark.parametrize("length", [2, 40])
def test_the_number_of_queries_does_not_grow_with_the_chain(
    squash, start, grow, make_garden, make_variety, length
):
    lot, other = start(squash, year=1980), start(make_variety(crop="pumpkin"), year=1980)
    here, there = make_garden("Upper Beck plot"), make_garden("Lower Beck plot", north_m=90)
    for year in range(1981, 1981 + length):
        lot = grow(lot, year=year, garden=here, isolation="distance", isolation_distance_m=900)
        other = grow(other, year=year, garden=there)
    chain = chain_up(lot)

    with CaptureQueriesContext(connection) as queries:
        purity = judge(chain, for_coordinator=True)

    assert len(queries) == 4
    assert len(purity.weak) == length
    with CaptureQueriesContext(connection) as queries:
        judge(chain, for_coordinator=False)
    assert len(queries) == 2
