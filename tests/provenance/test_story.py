"""The story of a lot: everything that was told, and that the rest is unknown."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import Community, Garden
from library.germination import services as germination
from library.provenance.chain import chain_up
from library.provenance.purity import judge
from library.provenance.services import report_off_types
from library.provenance.story import chapters, generations, in_order, overview
from library.stock import services as stock

ON = dt.date(2025, 10, 1)


@pytest.fixture
def grow(make_lot, variety, member):
    """``grow(parent)``: seed that came back from the parents, in equal parts."""

    def make(*parents, year=2025, growing=None, **facts):
        shares = [(parent, 1 / len(parents)) for parent in parents]
        facts = {"grower": member} | facts
        return make_lot(
            variety,
            origin="return",
            parents=shares,
            harvest_year=year,
            growing=growing,
            **facts,
        )

    return make


@pytest.fixture
def read(client):
    """What the page of a lot's story says, for whoever is signed in."""

    def get(lot, **query):
        answer = client.get(reverse("lot-chain", args=[lot.number]), query)
        assert answer.status_code == 200
        return answer.content.decode()

    return get


def steps_of(lot):
    chain = chain_up(lot)
    told = chapters(
        chain,
        in_order(chain),
        purity=judge(chain, for_coordinator=True),
        carried={},
        for_desk=False,
    )
    return {step.lot: step for chapter in told for step in chapter.steps}


def test_a_deposit_tells_who_brought_it_from_where(make_lot, variety):
    lot = make_lot(
        variety, harvest_year=2024, source_name="Old Wether", origin_region="the high farms"
    )

    told = " ".join(steps_of(lot)[lot].sentences)

    assert told.startswith("Brought by Old Wether on 1 October 2025.")
    assert "It came from: the high farms." in told


def test_what_nobody_told_is_said_to_be_unknown(make_lot, variety, grow, read):
    deposit = make_lot(variety)
    child = grow(deposit, growing={"plants_sown": 9})

    page = read(child)
    steps = steps_of(child)

    assert "somebody whose name was not told" in " ".join(steps[deposit].sentences)
    assert "Where it had come from was not told." in steps[deposit].sentences
    assert "Plants: 9 set out, how many gave seed was not noted." in steps[child].sentences
    assert "What kept it from crossing was not noted." in steps[child].sentences
    assert "harvest year not known" in page
    assert "No germination test of it." in page
    assert "Of one stand nobody noted how many plants gave seed." in page


def test_a_stand_of_which_nothing_was_told_says_so(make_lot, variety, grow):
    child = grow(make_lot(variety))

    assert "How it was grown was not told." in steps_of(child)[child].sentences


def test_a_stand_is_told_with_all_that_was_noted(make_lot, variety, grow):
    growing = {
        "plants_sown": 40,
        "plants_gave_seed": 1200,
        "plants_stood": 1300,
        "isolation": "distance",
        "isolation_distance_m": 1500,
        "crossing_neighbour": "a runner bean",
        "selection": "early pods",
        "roguing": "two pale ones.",
    }
    child = grow(make_lot(variety), growing=growing)

    assert steps_of(child)[child].sentences[1:] == [
        "Plants: 40 set out, 1,300 stood, 1,200 gave seed.",
        "Kept from crossing by: distance. Nearest that could cross: a runner bean, 1,500 m "
        "away.",
        "Selected for: early pods.",
        "Pulled out: two pale ones.",
    ]


@pytest.mark.parametrize(
    ("facts", "told"),
    [
        ({"isolation": "cage"}, "Kept from crossing by: cage."),
        ({"isolation": "distance"}, "Kept from crossing by: distance. No distance was noted."),
        (
            {"isolation_distance_m": 20},
            "Kept from crossing by: not known. Nearest that could cross: 20 m away.",
        ),
        (
            {"isolation": "time", "crossing_neighbour": "leeks"},
            "Kept from crossing by: flowered at another time. Nearest that could cross: leeks.",
        ),
    ],
)
def test_isolation_in_words(make_lot, variety, grow, facts, told):
    child = grow(make_lot(variety), growing=facts)

    assert told in steps_of(child)[child].sentences


def test_generations_count_what_was_grown_and_not_what_was_mixed(make_lot, variety, grow):
    first, second = make_lot(variety), make_lot(variety)
    bulk = stock.bulk_lots(lots=[(first, 100), (second, 300)], on=ON, by=first.grower)
    child = grow(bulk)
    uneven = grow(child, first)

    assert generations(chain_up(uneven)) == {
        first.pk: 0,
        second.pk: 0,
        bulk.pk: 0,
        child.pk: 1,
        uneven.pk: 2,
    }
    told = " ".join(steps_of(uneven)[bulk].sentences)
    assert f"{second.number} (75 %)" in told
    assert f"{first.number} (25 %)" in told


def test_in_short_it_counts_beginnings_generations_and_the_fewest_plants(
    make_lot, variety, grow
):
    first, second = make_lot(variety, harvest_year=2019), make_lot(variety, harvest_year=2021)
    narrow = grow(first, second, year=2023, growing={"plants_gave_seed": 1})
    last = grow(narrow, year=2024, growing={"plants_gave_seed": 30})

    assert overview(chain_up(last)).sentences == [
        "Its chain begins with 2 lots, the oldest harvested in 2019.",
        "Since then its seed was sown and harvested 2 times, one after another.",
        f"At the fewest one plant gave seed, for lot {narrow.number}.",
    ]


def test_a_chain_that_begins_here_says_so(make_lot, variety):
    assert overview(chain_up(make_lot(variety))).sentences == [
        "The chain begins with this lot.",
        "In this chain nothing has been grown from it yet.",
    ]


@pytest.fixture
def from_elsewhere(variety):
    """A lot of another library, grown there from an older one."""
    facts = {"library": "Fen Edge Seed Library", "place": "the fens", "variety": variety}
    older = stock.record_lot_elsewhere(
        identifier=uuid.uuid4(), number="F-1", origin_there="deposit", on=ON, **facts
    )
    return stock.record_lot_elsewhere(
        identifier=uuid.uuid4(),
        number="F-7",
        origin_there="return",
        grower_name="Heron of the fens",
        on=ON,
        parents=[(older, 1)],
        **facts,
    )


def test_a_lot_of_another_library_is_told_as_foreign(make_lot, variety, from_elsewhere, read):
    here = make_lot(variety, part_of=from_elsewhere)

    page, steps = read(here), steps_of(here)

    assert steps[from_elsewhere].sentences[:2] == [
        "Kept by Fen Edge Seed Library in the fens, as its lot F-7.",
        "Grown by Heron of the fens from lot "
        + from_elsewhere.parent_links.get().parent.number
        + ".",
    ]
    assert f"out of the jar of lot {from_elsewhere.number}: the same seed." in page
    assert "2 of the lots before it were kept by another library." in page
    assert "One of the lots before it was kept" in " ".join(
        overview(chain_up(from_elsewhere)).sentences
    )
    assert "kept by another library" in page


def test_tests_and_amendments_are_told(make_lot, variety, desk, read, as_desk):
    lot = make_lot(variety, harvest_year=2023)
    germination.record_test(
        lot=lot,
        replicates=[{"seeds": 50, "normal": 44}],
        started_on=dt.date(2025, 11, 1),
        closed_on=dt.date(2025, 11, 9),
        by=desk,
    )
    stock.amend_lot(lot=lot, field="harvest_year", value=2024, reason="read the jar", by=desk)

    page = read(lot)

    assert "Tested 9 November 2025: 88 % germinated (44 of 50)." in page
    assert "<del>2023</del>" in page
    assert "<ins>2024</ins>" in page
    assert "read the jar" in page
    assert "heron" in page


def test_who_amended_and_why_it_was_withheld_is_for_the_desk(make_lot, variety, desk, read):
    lot = make_lot(variety)
    stock.amend_lot(lot=lot, field="origin_region", value="the valley", reason="told", by=desk)
    stock.withhold(lot=lot, reason="smells of mice", by=desk)

    page = read(lot)

    assert "the valley" in page
    assert "heron" not in page
    assert "mice" not in page


def test_off_types_come_first_and_at_the_stand(make_lot, variety, grow, member, read):
    first = make_lot(variety)
    child = grow(first)
    report_off_types(
        lot=first, seen_on=ON, what="round among the long", by=member, on=ON, plants_seen=2
    )

    page = read(child)

    assert page.index("round among the long") < page.index("In short")
    assert page.count("round among the long") >= 2


def test_who_holds_it_now(make_lot, variety, grow, other_member, desk, read):
    first = make_lot(variety, seeds=400)
    grow(first, seeds=90, custodian=other_member)
    stock.discard_rest(lot=first, on=ON, by=desk, reason="mould")

    page = read(first)

    assert "rook" in page
    assert "90" in page
    assert "One later lot was made from it." in page


def test_only_chosen_names_leave(make_lot, variety, grow, member, desk, client):
    garden = Garden.objects.create(
        member=member,
        name="Behind Mill Lane 7",
        placed="exact",
        latitude="54.12345",
        longitude="-2.98765",
    )
    child = grow(make_lot(variety), growing={"garden": garden, "plants_gave_seed": 12})

    for person in (None, member, desk):
        if person:
            client.force_login(person)
        page = client.get(reverse("lot-chain", args=[child.number])).content.decode()
        assert "wren" in page
        for private in ("wren@example.org", "Mill Lane", "54.123", "2.987"):
            assert private not in page


def test_a_hostile_story_is_only_text(make_lot, variety, read):
    lot = make_lot(
        variety,
        origin_story="<script>alert(1)</script>",
        origin_region="<b>nowhere</b>",
        source_name="<i>x</i>",
    )

    page = read(lot)

    assert "<script>alert(1)" not in page
    assert "<b>nowhere" not in page
    assert "<i>x" not in page


def test_the_region_is_the_communitys_and_no_garden(make_lot, variety, grow, read):
    Community.current()
    Community.objects.update(place="Tarn Hollow")

    assert "Tarn Hollow" in read(grow(make_lot(variety)))


def test_a_long_chain_costs_no_more_queries_and_is_told_in_parts(
    make_lot, variety, grow, client
):
    lot = make_lot(variety)
    short = grow(lot)
    for _generation in range(44):
        lot = grow(lot, growing={"plants_gave_seed": 5})

    counts, pages = [], []
    for each in (short, lot, short):  # the first warms what is read once
        with CaptureQueriesContext(
            connection,
        ) as queries:
            pages.append(client.get(reverse("lot-chain", args=[each.number])))
        counts.append(len(queries))
    second = client.get(reverse("lot-chain", args=[lot.number]), {"page": "2"})

    assert counts[1] <= counts[2] + 1  # the plants that keep the species
    assert len(pages[1].context["page_obj"]) == 40
    assert lot.number in second.content.decode().split("In short")[1]


@pytest.mark.parametrize("page", ["0", "-1", "99", "x", "\x00", "9" * 400])
def test_a_page_that_is_none_shows_one_that_is(make_lot, variety, client, page):
    answer = client.get(reverse("lot-chain", args=[make_lot(variety).number]), {"page": page})

    assert answer.status_code == 200


def test_a_private_catalogue_keeps_its_stories(make_lot, variety, client, applicant):
    lot = make_lot(variety)
    Community.current()
    Community.objects.update(catalogue_is_public=False)

    nobody = client.get(reverse("lot-chain", args=[lot.number]))
    client.force_login(applicant)
    waiting = client.get(reverse("lot-chain", args=[lot.number]))

    assert (nobody.status_code, waiting.status_code) == (302, 404)


def test_the_lots_page_leads_to_its_story(make_lot, variety, grow, client):
    child = grow(make_lot(variety))

    page = client.get(child.get_absolute_url()).content.decode()

    assert reverse("lot-chain", args=[child.number]) in page
    assert "Since then its seed was sown and harvested once." in page
