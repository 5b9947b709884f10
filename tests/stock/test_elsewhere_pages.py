"""Lots of other libraries on the pages and over the API: shown as theirs, never as seed."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.core.management import call_command
from django.urls import reverse

from library.errors import Refused
from library.germination import services as bench
from library.germination.pictures.living import living_seed
from library.lending.services import reserve_of
from library.stock import services as stock
from library.stock.checks import problems
from library.stock.models import Lot, LotParent, Origin

ON = dt.date(2026, 10, 1)


@pytest.fixture
def there(variety):
    return stock.record_lot_elsewhere(
        identifier=uuid.uuid4(),
        library="Fen Edge <b>Seed</b> Library",
        number="F-7",
        place="the fens",
        grower_name="marsh harrier",
        variety=variety,
        origin_there="deposit",
        harvest_year=2021,
        on=dt.date(2021, 10, 1),
    )


@pytest.fixture
def here(there, variety, make_lot):
    return make_lot(variety, part_of=there)


REFUSED = {
    "pack": lambda lot, by: stock.pack(lot=lot, packets=1, seeds_each=5, on=ON, by=by),
    "draw": lambda lot, by: stock.draw_for_test(lot=lot, seeds=5, on=ON, by=by),
    "discard": lambda lot, by: stock.discard(lot=lot, seeds=5, on=ON, by=by, reason="wet"),
    "discard all": lambda lot, by: stock.discard_rest(lot=lot, on=ON, by=by, reason="wet"),
    "give": lambda lot, by: stock.give_away(lot=lot, seeds=5, on=ON, by=by, reason="fair"),
    "count": lambda lot, by: stock.correct_count(
        lot=lot, loose=5, on=ON, by=by, reason="found"
    ),
    "move": lambda lot, by: stock.move_lot(lot=lot, storage_place=None, by=by, on=ON),
    "hand over": lambda lot, by: stock.hand_to_custodian(lot=lot, custodian=by, by=by, on=ON),
    "withhold": lambda lot, by: stock.withhold(lot=lot, reason="off", by=by),
    "release": lambda lot, by: stock.release(lot=lot, by=by),
    "stock-take": lambda lot, by: stock.count_lot(
        stock_take=stock.start_stock_take(storage_place=None, by=by), lot=lot, loose=5, by=by
    ),
    "plan a test": lambda lot, by: bench.plan_test(lot=lot, on=ON, by=by),
    "start a test": lambda lot, by: bench.start_test(lot=lot, on=ON, by=by),
    "record a test": lambda lot, by: bench.record_test(
        lot=lot, replicates=[{"seeds": 5}], started_on=ON, closed_on=ON, by=by
    ),
    "first test": lambda lot, by: bench.expect_first_test(lot=lot, on=ON),
    "sowing": lambda lot, by: bench.expect_sowing(lot=lot, on=ON, what_for="x", by=by),
    "shelf": lambda lot, by: bench.decide_shelf(lot=lot, decision="keep", reason="x", by=by),
}


@pytest.mark.parametrize("verb", REFUSED)
def test_nothing_is_done_to_seed_that_is_not_here(there, desk, verb):
    with pytest.raises(Refused, match="kept by another library; no seed of it is here"):
        REFUSED[verb](there, desk)

    assert not there.movements.exists()
    assert not there.keepings.exists()
    assert list(problems()) == []


def test_bulking_refuses_it(there, here, desk):
    with pytest.raises(Refused, match="kept by another library"):
        stock.bulk_lots(lots=[(there, 5), (here, 5)], on=ON, by=desk)


def test_what_the_other_library_told_stays_as_it_told_it(there, desk):
    with pytest.raises(Refused, match="stays as that library told of it"):
        stock.amend_lot(lot=there, field="harvest_year", value=2020, reason="x", by=desk)


def test_seed_is_never_received_as_a_lot_elsewhere(variety, desk):
    with pytest.raises(Refused, match="brings no seed"):
        stock.receive_lot(variety=variety, origin=Origin.ELSEWHERE, on=ON, by=desk, seeds=5)


@pytest.mark.parametrize("origin", ["elsewhere", "found"])
def test_how_it_came_about_there_is_one_of_three(variety, origin):
    with pytest.raises(Refused, match="deposit, return or bulk"):
        stock.record_lot_elsewhere(
            identifier=uuid.uuid4(),
            library="Fen Edge",
            number="1",
            variety=variety,
            origin_there=origin,
            on=ON,
        )


def test_a_deposit_there_may_be_part_of_a_third_librarys_lot(there, variety, make_lot):
    facts = {
        "library": "Moor Top",
        "origin_there": "deposit",
        "on": dt.date(2022, 1, 1),
        "variety": variety,
        "number": "M-1",
    }
    second = stock.record_lot_elsewhere(identifier=uuid.uuid4(), parents=[(there, 1)], **facts)

    with pytest.raises(Refused, match="part of one lot"):
        stock.record_lot_elsewhere(
            identifier=uuid.uuid4(), parents=[(there, "0.5"), (second, "0.5")], **facts
        )
    assert LotParent.objects.get(child=second).parent == there
    assert list(problems()) == []


def test_its_page_says_whose_it_is_and_offers_no_desk_verb(client, desk, there, here):
    client.force_login(desk)

    page = client.get(there.get_absolute_url()).content.decode()

    for told in [
        "Fen Edge &lt;b&gt;Seed&lt;/b&gt; Library",
        "F-7",
        "the fens",
        "marsh harrier",
    ]:
        assert told in page
    assert here.get_absolute_url() in page
    for verb in ["lot-pack", "lot-move", "lot-withhold", "lot-amend", "lot-labels", "lot-give"]:
        assert reverse(verb, args=[there.number]) not in page
    assert "Germination" not in page


def test_the_desks_form_about_it_is_refused_with_a_sentence(client, desk, there):
    client.force_login(desk)

    answer = client.post(
        reverse("lot-pack", args=[there.number]),
        {"packets": 1, "seeds_each": 5, "on": "2026-10-01"},
    )

    assert answer.status_code == 400
    assert "no seed of it is here" in answer.content.decode()


@pytest.mark.parametrize(
    "name", ["lot-pack", "test-start", "lot-move", "sowing-add", "lot-viability"]
)
def test_a_page_about_its_seed_breaks_at_nothing(client, desk, there, name):
    client.force_login(desk)

    assert client.get(reverse(name, args=[there.number])).status_code in (200, 404)


def test_a_variety_shows_it_apart(client, variety, there, here):
    page = client.get(variety.get_absolute_url()).content.decode()

    shelf, apart = page.split("1 older lot, kept by another library")
    assert here.number in shelf
    assert there.number not in shelf
    assert there.number in apart


def test_its_code_leads_to_its_page(client, there):
    answer = client.get(reverse("scan"), {"code": there.number})

    assert answer.headers["Location"] == there.get_absolute_url()


def test_the_api_lists_it_only_when_asked(api, there, here):
    ours = api.get("/api/lots/").json()["results"]
    theirs = api.get("/api/lots/", {"origin": "elsewhere"}).json()["results"]

    assert [(lot["number"], lot["elsewhere"]) for lot in ours] == [(here.number, None)]
    (lot,) = theirs
    assert lot["elsewhere"] == {
        "library": "Fen Edge <b>Seed</b> Library",
        "number": "F-7",
        "place": "the fens",
        "grower_name": "marsh harrier",
        "origin_there": "deposit",
    }


def test_the_api_shows_it_by_its_number(api, there, here):
    lot = api.get(f"/api/lots/{there.number}/").json()

    assert lot["children"] == [here.number]
    assert lot["elsewhere"]["number"] == "F-7"


@pytest.mark.parametrize("origin", ["", "elsewhere"])
@pytest.mark.parametrize("many", [1, 6])
def test_the_list_asks_as_much_for_one_as_for_many(
    api, variety, make_lot, django_assert_max_num_queries, many, origin
):
    for n in range(many):
        make_lot(
            variety,
            part_of=stock.record_lot_elsewhere(
                identifier=uuid.uuid4(),
                library="Fen Edge",
                number=str(n),
                variety=variety,
                origin_there="deposit",
                on=ON,
            ),
            on=ON,
        )
    api.get("/api/lots/")

    with django_assert_max_num_queries(3):
        answer = api.get("/api/lots/", {"origin": origin} if origin else {})

    assert len(answer.json()["results"]) == many


def test_it_counts_nowhere_as_seed(there, variety):
    assert living_seed().total.lots == 0
    assert reserve_of(variety).have == 0
    assert not Lot.objects.with_seed().exists()


def test_the_stock_adds_up_with_it(there, here, capsys):
    call_command("verify_stock")

    assert "2 lots add up" in capsys.readouterr().out


class TestWhatTheStockCheckFinds:
    @pytest.mark.parametrize(
        ("shares", "sum_up"),
        [
            (["0.138614", "0.336634", "0.524752"], True),
            (["0.333333", "0.333333", "0.333334"], True),
            (["0.333333", "0.333333", "0.333333"], False),
            (["0.5", "0.4", "0.100001"], False),
        ],
    )
    def test_shares_to_the_millionth(self, variety, make_lot, shares, sum_up):
        """Added as floats, as SQLite does, the first come out beside 1."""
        parents = [make_lot(variety) for _ in shares]
        bulk = Lot.objects.create(
            number="L-b", variety=variety, origin=Origin.BULK, received_on=ON
        )
        for parent, share in zip(parents, shares, strict=True):
            LotParent.objects.create(child=bulk, parent=parent, share=share)

        assert (list(problems()) == []) is sum_up

    def test_a_lot_elsewhere_that_says_not_whose(self, variety):
        Lot.objects.create(
            number="L-x", variety=variety, origin=Origin.ELSEWHERE, received_on=ON
        )

        assert any("which library kept it" in problem for problem in problems())

    def test_a_deposit_with_two_parents(self, variety, make_lot):
        one, two = make_lot(variety), make_lot(variety)
        both = make_lot(variety)
        LotParent.objects.create(child=both, parent=one, share="0.5")
        LotParent.objects.create(child=both, parent=two, share="0.5")

        assert any("has 2 parents" in problem for problem in problems())

    def test_a_year_turned_round_across_lots_whose_year_is_not_known(self, variety, make_lot):
        first = make_lot(variety, harvest_year=2018)
        second = make_lot(variety, origin="return", parents=[(first, 1)])
        third = make_lot(variety, origin="return", parents=[(second, 1)])
        last = make_lot(variety, origin="return", parents=[(third, 1)], harvest_year=2019)
        assert list(problems()) == []

        Lot.objects.filter(pk=first.pk).update(harvest_year=2020)

        (problem,) = problems()
        assert last.number in problem
        assert "2020" in problem

    def test_a_harvest_after_the_receipt(self, make_lot):
        lot = make_lot()
        Lot.objects.filter(pk=lot.pk).update(harvest_year=2030)

        assert any("received before it was harvested" in problem for problem in problems())
