"""The picture of a chain: what it shows, what it opens, and that it says it in words too."""

from __future__ import annotations

import datetime as dt
import re
import uuid
from xml.etree import ElementTree

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import Community
from library.provenance.chain import chain_up
from library.provenance.picture import picture_of
from library.provenance.purity import judge
from library.provenance.services import report_off_types
from library.provenance.warnings import warnings_in
from library.stock import services as stock

ON = dt.date(2025, 10, 1)


@pytest.fixture
def grow_one(make_lot, variety, member):
    """``grow_one(parent, year=2020)``: seed that came back from it."""

    def make(*parents, year=None, growing=None, shares=None):
        shares = shares or [1 / len(parents)] * len(parents)
        pairs = list(zip(parents, shares, strict=True))
        facts = {"harvest_year": year, "growing": growing, "grower": member}
        return make_lot(variety, origin="return", parents=pairs, **facts)

    return make


@pytest.fixture
def line(make_lot, variety, grow_one):
    """Seven lots, each grown from the one before, oldest first."""
    lots = [make_lot(variety, harvest_year=2015)]
    for year in range(2016, 2022):
        lots.append(grow_one(lots[-1], year=year, growing={"plants_gave_seed": 30}))
    return lots


def address(lot):
    return reverse("lot-chain-picture", args=[lot.number])


def numbers(answer):
    return [mark.lot.number for mark in answer.context["picture"].marks]


def test_a_few_generations_are_shown_and_the_rest_opens_on_demand(client, line):
    last = line[-1]

    near = client.get(address(last))
    mark = near.context["picture"].marks[0]
    further = client.get(mark.opens.partition("#")[0])

    assert numbers(near) == [lot.number for lot in line[3:]]
    assert (mark.behind.lots, mark.behind.deposits) == (3, 1)
    assert "+ 3 more" in near.content.decode()
    assert numbers(further) == [lot.number for lot in line]
    assert further.context["picture"].hidden == 0


def test_all_of_it_can_be_asked_for(client, line):
    answer = client.get(address(line[-1]), {"generations": "all"})

    assert numbers(answer) == [lot.number for lot in line]


def test_what_was_made_of_it_is_drawn_the_other_way(client, line):
    answer = client.get(address(line[0]), {"towards": "down", "generations": "2"})

    assert numbers(answer) == [lot.number for lot in line[:3]]
    assert answer.context["picture"].marks[-1].behind.lots == 4


def test_shapes_and_words_tell_how_each_came_about(make_lot, variety, grow_one, desk):
    there = stock.record_lot_elsewhere(
        identifier=uuid.uuid4(),
        library="Fen Edge Seed Library",
        number="F-1",
        variety=variety,
        origin_there="deposit",
        on=ON,
    )
    part = make_lot(variety, part_of=there)
    own = make_lot(variety)
    bulk = stock.bulk_lots(lots=[(part, 100), (own, 300)], on=ON, by=desk)
    grown = grow_one(bulk, growing={"plants_gave_seed": 12})
    untold = grow_one(grown)

    marks = {mark.lot.pk: mark for mark in picture_of(chain_up(untold), generations=None).marks}

    assert [marks[lot.pk].shape for lot in (there, part, own, bulk, grown)] == [
        "deposit",
        "part",
        "deposit",
        "bulk",
        "return",
    ]
    assert [marks[lot.pk].inside for lot in (bulk, grown, untold)] == ["+", "12", "?"]
    assert marks[there.pk].elsewhere
    assert "kept by Fen Edge Seed Library" in marks[there.pk].words
    assert marks[bulk.pk].made_from == f"{own.number} (75 %), {part.number} (25 %)"
    assert "12 plants gave seed" in marks[grown.pk].words
    assert "?" not in marks[untold.pk].words


def test_the_share_is_the_width_of_the_line(make_lot, variety, grow_one):
    large, small = make_lot(variety), make_lot(variety)
    child = grow_one(large, small, shares=[0.9, 0.1])

    bands = picture_of(chain_up(child)).bands

    widths = sorted(band.width for band in bands)
    assert widths == pytest.approx([1.5 + 7.5 * 0.1, 1.5 + 7.5 * 0.9], abs=0.06)
    assert {band.words for band in bands} == {
        f"90 % of {child.number} came from {large.number}",
        f"10 % of {child.number} came from {small.number}",
    }


def test_bottlenecks_weak_isolation_and_off_types_are_seen_at_a_glance(
    client, make_lot, make_variety, member, desk
):
    squash = make_variety(crop="courgette")
    first = make_lot(squash)
    facts = {
        "plants_gave_seed": 1,
        "isolation": "distance",
        "isolation_distance_m": 5,
        "crossing_neighbour": "a pumpkin",
    }
    child = make_lot(squash, origin="return", parents=[(first, 1)], growing=facts)
    report_off_types(lot=first, seen_on=ON, what="round fruit", by=member, on=ON)

    answer = client.get(address(child))

    page, marks = answer.content.decode(), answer.context["picture"].marks
    assert marks[1].flags == ("this lot", "few plants", "may have crossed", "off-types seen")
    assert answer.context["picture"].bands[0].is_weak
    assert "broken line: grown where it may have crossed" in page
    assert page.count("may have crossed") >= 3  # in the picture, by ear and in the table


def test_the_table_says_the_same_as_the_picture(client, line):
    answer = client.get(address(line[-1]))
    page = answer.content.decode()
    table = page[page.index("<table") :]

    for mark in answer.context["picture"].marks:
        assert mark.lot.number in table
        assert mark.kind in table
    assert "30" in table


def test_the_drawing_is_well_formed_and_its_links_are_named(client, line):
    page = client.get(address(line[-1])).content.decode()
    drawing = re.search(
        r"<svg viewBox=\"0 0 [^>]*data-chain=\"\">.*?</svg>", page, re.S
    ).group()

    root = ElementTree.fromstring(drawing)  # noqa: S314, our own page

    links = list(root.iter("a"))
    assert len(links) == 5  # four lots, and one that opens more
    assert all(link.get("aria-label") for link in links)
    assert [link.get("href") for link in links][:1] == [line[3].get_absolute_url()]


@pytest.mark.parametrize(
    "query",
    [
        {"generations": "0"},
        {"generations": "-3"},
        {"generations": "９"},
        {"generations": "9" * 300},
        {"generations": "x\x00"},
        {"open": "\x00"},
        {"open": "<script>alert(1)</script>"},
        {"open": ["L1"] * 500},
        {"towards": "up\x00"},
    ],
)
def test_what_cannot_be_read_is_left_out(client, line, query):
    answer = client.get(address(line[-1]), query)

    assert answer.status_code == 200
    assert "<script>alert" not in answer.content.decode()


def test_an_opened_lot_that_does_not_hang_together_is_not_shown(client, line):
    answer = client.get(address(line[-1]), {"generations": "1", "open": line[2].number})

    assert numbers(answer) == [lot.number for lot in line[-2:]]


def test_it_costs_the_same_queries_for_a_long_chain(client, line, grow_one):
    lot = line[-1]
    for year in range(2022, 2026):
        lot = grow_one(lot, year=year)
    counts = []
    for each in (line[2], line[2], lot):  # the first warms what is read once
        with CaptureQueriesContext(connection) as queries:
            client.get(address(each), {"generations": "all"})
        counts.append(len(queries))

    assert counts[1] == counts[2]


def test_a_private_catalogue_keeps_its_pictures(client, line, applicant):
    Community.current()
    Community.objects.update(catalogue_is_public=False)

    nobody = client.get(address(line[0]))
    client.force_login(applicant)

    assert (nobody.status_code, client.get(address(line[0])).status_code) == (302, 404)


def test_no_year_is_written_over_a_lot_of_which_nobody_told_it(
    client, make_lot, variety, grow_one
):
    brought = make_lot(variety)
    first = grow_one(brought, year=2020)
    untold = grow_one(first)
    last = grow_one(untold, year=2022)

    answer = client.get(address(last), {"generations": "all"})

    picture = answer.context["picture"]
    over = {
        mark.lot.pk: year.label
        for mark in picture.marks
        for year in picture.years
        if year.x == mark.x
    }
    assert [over[lot.pk] for lot in (brought, first, untold, last)] == [
        "not known",
        "2020",
        "not known",
        "2022",
    ]
    assert [mark.written[:1] for mark in picture.marks] == [
        ("year not known",),
        (),
        ("year not known",),
        ("this lot",),
    ]


def test_an_undated_lot_beside_a_dated_one_says_so_itself(client, make_lot, variety, grow_one):
    dated, undated = make_lot(variety, harvest_year=2020), make_lot(variety)
    last = grow_one(dated, undated, year=2020)

    picture = client.get(address(last)).context["picture"]

    marks = {mark.lot.pk: mark for mark in picture.marks}
    assert marks[dated.pk].x == marks[undated.pk].x
    assert [year.label for year in picture.years] == ["2020"]
    assert marks[undated.pk].written == ("year not known",)
    assert marks[dated.pk].written == ()


def test_where_few_plants_are_not_marked_the_page_says_so(client, line):
    sentence = "Grow-outs of too few plants are not marked in this picture."

    assert sentence not in client.get(address(line[-1])).content.decode()
    assert sentence in client.get(address(line[0]), {"towards": "down"}).content.decode()


def test_a_lot_without_relatives_is_one_mark(make_lot, variety):
    lot = make_lot(variety)
    chain = chain_up(lot)

    picture = picture_of(
        chain, purity=judge(chain, for_coordinator=True), warned=warnings_in(chain)
    )

    assert [mark.lot for mark in picture.marks] == [lot]
    assert picture.bands == ()
