"""The plan of gardens: true metres, what may cross, and coarse cells for members."""

from __future__ import annotations

import math
import random
from decimal import Decimal
from itertools import combinations

import pytest
from django.urls import reverse

from library.catalogue.models import SpeciesFigure
from library.growouts.models import Plan, PlannedPair
from library.growouts.pictures.gardens import cells_layout, garden_plan, members_plan
from library.growouts.pictures.gardens.cells import cell_of, place_words
from library.growouts.pictures.gardens.facts import (
    Kind,
    Projection,
    Spot,
    Stand,
    conflicts_of,
    projection_of,
)
from library.growouts.pictures.gardens.layout import (
    NARROW,
    WIDE,
    Ground,
    Words,
    draw,
    round_below,
)
from library.science.isolation import distance_m

WORDS = Words(
    metres=lambda m: f"{m:g} m",
    between=lambda c: f"{c.distance_m:.0f} m of {c.required_m:g} m",
    north="north ↑",
)


def spot(key: int, latitude: float = 54.2, longitude: float = -2.9) -> Spot:
    return Spot(key=key, name="plot", grower="g", latitude=latitude, longitude=longitude)


def stand(garden: int, variety: str = "v1", kind: Kind = Kind.PROMISED, **facts) -> Stand:
    given = {"species": 1, "species_name": "squash", "flowers": 2026, "needs_m": 500.0} | facts
    key = f"{kind.value} {garden} {variety}"
    return Stand(key=key, garden=garden, kind=kind, variety=variety, name=variety, **given)


# Metres


@pytest.mark.parametrize(
    ("latitude", "longitude"), [(0, 0), (54.2, -2.9), (-33, 151), (65, 25.1), (40, 179.99)]
)
def test_the_projection_is_true_to_half_a_percent_within_30_km(latitude, longitude):
    middle = Projection(latitude, longitude)
    chance = random.Random(7)
    for _n in range(50):
        there = (
            latitude + chance.uniform(-0.2, 0.2),
            (longitude + chance.uniform(-0.3, 0.3) + 180) % 360 - 180,
        )
        true = distance_m(lat1=latitude, lon1=longitude, lat2=there[0], lon2=there[1])
        assert math.hypot(*middle.metres(*there)) == pytest.approx(true, rel=0.005)


def test_the_middle_lies_between_places_also_across_the_date_line():
    middle = projection_of([(10, 179.9), (12, -179.9)])

    assert middle.latitude == 11
    assert abs(middle.longitude) == pytest.approx(180)
    east = [middle.metres(11, longitude)[0] for longitude in (179.9, -179.9)]
    assert east[0] == pytest.approx(-east[1])


# What may cross


def metres_north(metres: float) -> float:
    return 54.2 + metres / 111_320


@pytest.mark.parametrize(("apart", "conflicts"), [(400, 1), (499, 1), (505, 0)])
def test_two_varieties_nearer_than_their_species_needs(apart, conflicts):
    spots = [spot(1), spot(2, latitude=metres_north(apart))]

    assert len(conflicts_of(spots, [stand(1), stand(2, "v2")])) == conflicts


@pytest.mark.parametrize(
    "other",
    [
        stand(2, "v1"),  # the same variety
        stand(2, "v2", species=2),
        stand(2, "v2", flowers=2027),
        stand(2, "v2", guarded=True),
        stand(2, "v2", needs_m=0.0),
        stand(3, "v2"),  # a garden whose place nobody knows
    ],
    ids=lambda s: s.key,
)
def test_what_does_not_cross(other):
    assert not conflicts_of([spot(1), spot(2)], [stand(1), other])


def test_what_people_grow_for_themselves_harms_what_is_promised_but_not_each_other():
    own = stand(2, "o2", Kind.OWN)
    found = conflicts_of([spot(1), spot(2)], [own, stand(1, "o1", Kind.OWN), stand(1)])

    assert {(c.one.variety, c.other.variety) for c in found} == {("v1", "o1"), ("v1", "o2")}
    assert found[0].short_m == 500


def test_two_in_one_garden_are_nearest_of_all():
    found = conflicts_of([spot(1)], [stand(1), stand(1, "v2", Kind.PLANNED)])

    assert found[0].in_one_garden
    assert (found[0].one.variety, found[0].distance_m) == ("v1", 0)


# Where it is drawn


def valley(gardens: int, seed: int) -> Ground:
    chance = random.Random(seed)
    spots = {
        n: spot(n, 54.2 + chance.gauss(0, 0.02), -2.9 + chance.gauss(0, 0.04))
        for n in range(gardens)
    }
    stands = []
    for n in range(gardens):
        for kind in Kind:
            if chance.random() < 0.4:
                species = chance.randint(1, 12)
                stands.append(
                    stand(
                        n,
                        f"v{chance.randint(1, 30)}",
                        kind,
                        species=species,
                        needs_m=float(100 * species),
                    )
                )
    places = [(s.latitude, s.longitude) for s in spots.values()]
    onto = projection_of(places)
    busy = sorted({s.garden for s in stands if s.kind is not Kind.OWN})
    return Ground(
        places={n: onto.metres(s.latitude, s.longitude) for n, s in spots.items()},
        stands=stands,
        conflicts=conflicts_of(spots.values(), stands),
        numbers={garden: n for n, garden in enumerate(busy, start=1)},
    )


@pytest.mark.parametrize("shape", [WIDE, NARROW], ids=lambda s: s.name)
@pytest.mark.parametrize("gardens", [1, 2, 5, 40, 600])
def test_no_word_lies_on_another_or_on_a_mark_and_all_is_inside(shape, gardens):
    picture = draw(valley(gardens, seed=gardens), shape, WORDS)
    labels = [mark.label for mark in picture.marks if mark.label]
    labels += [one.label for one in picture.conflicts if one.label]
    labels += [picture.scale.label, picture.north]

    assert len(picture.marks) == gardens
    for one, other in combinations(labels, 2):
        assert not one.box.overlaps(other.box), (one.text, other.text)
    for label in labels:
        assert label.box.inside(picture.frame)
    for mark in picture.marks:
        assert mark.box.inside(picture.frame)
        assert not any(mark.box.overlaps(label.box) for label in labels)
    assert picture.scale.x2 < shape.width


def test_few_gardens_all_have_their_numbers():
    picture = draw(valley(5, seed=2), WIDE, WORDS)

    assert any(mark.number for mark in picture.marks)
    assert not picture.numbers_left_out


def test_distances_in_the_picture_are_to_scale():
    ground = Ground(
        places={1: (0, 0), 2: (300, 400)}, stands=[stand(1)], conflicts=[], numbers={}
    )
    picture = draw(ground, WIDE, WORDS)
    one, other = picture.marks
    pixels = math.dist((one.x, one.y), (other.x, other.y))

    assert pixels / picture.per_metre == pytest.approx(500, rel=1e-3)
    assert picture.circles[0].r / picture.per_metre == pytest.approx(500, rel=1e-3)
    assert other.x > one.x  # east is right
    assert other.y < one.y  # north is up
    bar = picture.scale
    assert (bar.x2 - bar.x1) / picture.per_metre == pytest.approx(bar.metres, rel=1e-2)


def test_where_there_are_too_many_circles_those_in_conflict_are_drawn():
    ground = valley(600, seed=1)
    picture = draw(ground, WIDE, WORDS)

    assert picture.circles_left_out > 0
    assert picture.circles
    assert all(circle.in_conflict for circle in picture.circles)


@pytest.mark.parametrize(
    ("metres", "below"), [(1, 1), (999.9, 500), (1000, 1000), (4200, 2000), (0.3, 0.2)]
)
def test_scales_are_round(metres, below):
    assert round_below(metres) == pytest.approx(below)


@pytest.mark.parametrize(
    "own", [[], [(54.21, -2.91, "plot")], [(54.21, -2.91, "plot"), (-33.0, 151.0, "far")]]
)
@pytest.mark.parametrize("cells", [[], [(54.2, -2.9, 3)], [(54.2, -2.9, 3), (54.4, -2.7, 12)]])
@pytest.mark.parametrize(
    "shape", [cells_layout.WIDE, cells_layout.NARROW], ids=lambda s: s.name
)
def test_cells_and_own_gardens_lie_inside_and_words_apart(shape, cells, own):
    if not cells and not own:
        return
    picture = cells_layout.draw(cells, own, shape)
    labels = [one.label for one in (*picture.squares, *picture.dots) if one.label]

    for one, other in combinations(labels, 2):
        assert not one.box.overlaps(other.box)
    for box in [label.box for label in labels] + [dot.box for dot in picture.dots]:
        assert box.inside(picture.frame)
    for square in picture.squares:
        assert square.box.inside(picture.frame)
    assert len(picture.squares) == len(cells)


# What is read for it


@pytest.fixture
def beside(make_garden, make_commitment, make_variety, member, other_member):
    """Two squashes, 300 m apart."""
    near = make_garden(other_member, north_m=300)
    return (
        make_commitment(
            make_variety("Beck Gold", crop="courgette"),
            member,
            state="accepted",
            garden=make_garden(member),
        ),
        make_commitment(
            make_variety("Fell Green", crop="courgette"),
            other_member,
            state="accepted",
            garden=near,
        ),
    )


def test_a_conflict_is_found_and_told_to_coordinators(beside, season, client, coordinator):
    found = garden_plan(season)
    needed = SpeciesFigure.objects.get(
        species=beside[0].variety.crop.species, quantity="isolation_home_m"
    ).number

    (conflict,) = found.conflicts
    assert conflict.distance_m == pytest.approx(300, rel=0.01)
    assert conflict.required_m == float(needed)
    client.force_login(coordinator)
    page = client.get(reverse("season-map", args=[season.year])).content.decode()
    assert "299 m of 805 m" in page
    assert "style=" not in page
    told = client.get(reverse("api-season-map", args=[season.year])).json()
    assert told["exact"] is True
    assert told["conflicts"][0]["short_m"] == pytest.approx(conflict.short_m)
    assert told["gardens"][0]["latitude"] is not None


def test_a_bag_settles_it(beside, season):
    one = beside[0]
    one.technique = "bag"
    one.save()

    assert not garden_plan(season).conflicts


def test_own_plantings_of_what_is_grown_are_there_and_no_others(
    beside, season, make_planting, make_garden, make_member, make_variety
):
    garden = make_garden(make_member("kite"), east_m=200)
    make_planting(garden, make_variety("Lone Marrow", crop="courgette"))
    make_planting(garden, make_variety("Red One", crop="tomato"))
    make_planting(garden, beside[0].variety, flowers=False)
    found = garden_plan(season)

    own = [s.name for row in found.rows for s in row.stands if s.kind is Kind.OWN]
    assert own == ["Lone Marrow"]
    assert len(found.conflicts) == 3


def test_a_plan_adds_what_it_proposes(season, beside, make_offer, make_member, make_variety):
    offer = make_offer(make_member("kite"))
    plan = Plan.objects.create(
        season=season, state="done", seconds=1, finished_at="2026-02-01T09:00:00Z"
    )
    variety = make_variety("New Bean", crop="drying bean")
    PlannedPair.objects.create(plan=plan, variety=variety, garden=offer.garden)
    PlannedPair.objects.create(plan=plan, variety=beside[0].variety, garden=beside[0].garden)

    kinds = sorted(s.kind for row in garden_plan(season, plan=plan).rows for s in row.stands)
    assert kinds == [Kind.PLANNED, Kind.PROMISED, Kind.PROMISED]
    assert [r.kind for r in garden_plan(season).rows if r.key == offer.garden_id] == ["empty"]


def test_one_species_alone(season, beside, make_commitment, make_variety, make_member):
    make_commitment(
        make_variety("Bean", crop="drying bean"), make_member("kite"), state="accepted"
    )
    species = beside[0].variety.crop.species

    assert len(garden_plan(season).rows) == 3
    found = garden_plan(season, species=species)
    assert len(found.rows) == 2
    assert len(found.species_there) == 2


def test_a_biennial_flowers_with_the_next_season(
    season, make_commitment, make_variety, make_garden, make_member
):
    kinds = [("Root One", "carrot"), ("Root Two", "carrot")]
    first = make_commitment(
        make_variety(kinds[0][0], crop="carrot"), make_member("kite"), state="accepted"
    )
    first.season = type(season).objects.create(year=season.year - 1)
    first.save()
    make_commitment(
        make_variety(kinds[1][0], crop="carrot"), make_member("lark"), state="accepted"
    )
    found = garden_plan(season)

    flowers = {s.name: s.flowers for row in found.rows for s in row.stands}
    assert flowers == {"Root One": season.year, "Root Two": season.year + 1}
    assert not found.conflicts


def test_a_garden_on_the_coarse_grid_is_listed_and_not_drawn(
    season, make_commitment, make_variety, make_garden, make_member
):
    person = make_member("kite")
    make_commitment(
        make_variety(), person, state="accepted", garden=make_garden(person, placed="grid")
    )
    found = garden_plan(season)

    assert not found.rows
    assert [row.grower for row in found.unplaced] == ["kite"]


@pytest.mark.parametrize("address", ["season-map", "api-season-map"])
def test_as_many_questions_for_many_gardens_as_for_one(
    address,
    client,
    season,
    coordinator,
    make_commitment,
    make_variety,
    make_member,
    make_garden,
    make_planting,
    make_offer,
    django_assert_max_num_queries,
):
    client.force_login(coordinator)
    url = reverse(address, args=[season.year])

    def grow(n):
        person = make_member(f"grower {n}")
        garden = make_garden(person, north_m=100 * n)
        variety = make_variety(crop="courgette")
        make_commitment(variety, person, state="accepted", garden=garden)
        make_planting(garden, make_variety(crop="courgette"))
        make_offer(person, garden=garden)

    grow(0)
    with django_assert_max_num_queries(30) as first:
        assert client.get(url).status_code == 200
    asked = len(first.captured_queries)
    for n in range(1, 7):
        grow(n)
    with django_assert_max_num_queries(asked):
        assert client.get(url).status_code == 200


@pytest.mark.parametrize("asked", [{"plan": 999}, {"plan": "x"}, {"species": "nothing"}])
def test_what_is_not_there_is_refused(asked, client, season, coordinator):
    client.force_login(coordinator)

    for address in ("season-map", "api-season-map"):
        answer = client.get(reverse(address, args=[season.year]), asked)
        assert answer.status_code == 400


# Coarse cells


@pytest.fixture
def in_cell(make_member, make_garden, make_commitment, make_variety):
    """``in_cell(n, north_m)``: n members who grow something there."""
    numbers = iter(range(1000))

    def make(n: int, north_m: float):
        for _n in range(n):
            person = make_member(f"grower {next(numbers)}")
            garden = make_garden(person, north_m=north_m)
            make_commitment(make_variety(), person, state="accepted", garden=garden)

    return make


def test_a_cell_is_told_where_three_others_grow_and_else_they_are_elsewhere(
    in_cell, season, member
):
    in_cell(3, 0)
    in_cell(2, 20_000)
    found = members_plan(season, viewer=member)

    assert [(c.latitude, c.longitude, c.growers) for c in found.cells] == [
        (Decimal("54.2"), Decimal("-2.9"), 3)
    ]
    assert (found.elsewhere, found.growers) == (2, 5)


def test_who_asks_makes_no_cell_full_wherever_they_garden(
    in_cell, season, member, make_garden, make_commitment, make_variety
):
    in_cell(2, 0)
    make_commitment(make_variety(), member, state="accepted", garden=make_garden(member))
    found = members_plan(season, viewer=member)

    assert not found.cells
    assert found.elsewhere == 2
    assert found.own[0].grows


def test_one_sees_ones_own_gardens_as_exactly_as_one_told(season, member, make_garden):
    make_garden(member, north_m=30)
    found = members_plan(season, viewer=member)

    assert found.own[0].is_exact
    assert len(found.shapes) == 2
    assert found.own[0].words == "54.20027° N, 2.9° W"


def test_the_members_page_and_api_tell_cells_and_nothing_of_gardens(
    client, in_cell, season, member
):
    in_cell(4, 0)
    client.force_login(member)
    page = client.get(reverse("season-map", args=[season.year])).content.decode()
    told = client.get(reverse("api-season-map", args=[season.year])).json()

    assert "54.2° N, 2.9° W" in page
    assert told["exact"] is False
    assert (told["gardens"], told["conflicts"]) == ([], [])
    assert told["cells"] == [{"latitude": "54.2", "longitude": "-2.9", "growers": 4}]
    assert "style=" not in page


def test_cells_are_those_of_the_grid_that_gardens_are_kept_on(make_garden, member):
    garden = make_garden(member, north_m=4000, east_m=-3000)
    coarse = make_garden(member, north_m=4000, east_m=-3000, placed="grid")
    garden.refresh_from_db()
    coarse.refresh_from_db()

    assert cell_of(garden.latitude, garden.longitude) == (coarse.latitude, coarse.longitude)
    assert cell_of(None, None) is None
    assert str(cell_of(Decimal("-0.04"), Decimal("0.01"))[0]) == "0.0"


def test_places_in_words():
    assert place_words(Decimal("-33.0"), Decimal("151.25")) == "33.0° S, 151.25° E"
