"""How much to sow: on the pages of a loan, of a packet and of packing, and over the API."""

from __future__ import annotations

import datetime as dt
import math

import pytest

from library.germination.models import LotEstimate
from library.lending import services
from library.lending.models import LendingRules, Loan
from library.science.sowing import seeds_for_stand
from tests.lending.conftest import TODAY
from tests.pages import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def packet(variety, make_packet, make_estimate):
    """Twenty seeds of a lot of which at least 62 % sprout, most likely 80 %."""
    packet = make_packet(variety)
    make_estimate(packet.lot, low=0.62, median=0.8)
    return packet


def seeds(plants: int = 10, losses: float = 0.2, germination: float = 0.62) -> int:
    return seeds_for_stand(plants=plants, germination=germination, losses=losses)


def test_before_borrowing_a_member_reads_how_much_to_sow_and_why(as_member, packet):
    page = text_of(as_member.get("/loans/new/", {"packet": packet.code}))

    assert f"Sow {seeds()} seeds for 10 plants" in page
    assert "This packet holds 20 seeds: sow all of it, and expect about 12 plants." in page
    assert "with 95 % confidence, on 15 April 2026" in page


def test_another_stand_and_other_losses_are_worked_out(as_member, packet):
    asked = {"packet": packet.code, "plants": "4", "losses_percent": "87.5"}

    page = text_of(as_member.get("/loans/new/", asked))

    assert f"Sow {8 * seeds(4, 0)} seeds for 4 plants" in page
    assert 'name="plants" value="4"' in page
    assert f'<input type="hidden" name="packet" value="{packet.code}">' in page


def test_what_was_not_asked_is_filled_in_as_it_was_taken(as_member, packet):
    page = text_of(as_member.get("/loans/new/", {"packet": packet.code, "plants": "4"}))

    assert 'name="plants" value="4"' in page
    assert 'name="losses_percent" value="20"' in page


def test_what_was_asked_is_kept_nowhere(as_member, packet):
    as_member.get("/loans/new/", {"packet": packet.code, "plants": "4"})

    page = text_of(as_member.get("/loans/new/", {"packet": packet.code}))

    assert f"Sow {seeds()} seeds for 10 plants" in page


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"plants": "0"}, "0 is out of range: give a whole number from 1 to 100000."),
        ({"plants": "many"}, "Enter a whole number."),
        ({"losses_percent": "100"}, "Expected losses are 0 to 99 %, not 100."),
        ({"losses_percent": "NaN"}, "Enter a number."),
    ],
)
def test_a_stand_that_cannot_be_is_said_so_and_the_usual_advice_stands(
    as_member, packet, loan, asked, sentence
):
    before = as_member.get("/loans/new/", {"packet": packet.code} | asked)
    after = as_member.get(f"/loans/{loan.pk}/", asked)

    label = "Plants wanted" if "plants" in asked else "Seedlings lost, %"
    for response in (before, after):
        assert response.status_code == 400
        assert text_of(response).count(f"<p>{label}: {sentence}</p>") == 1
        assert f"Sow {seeds()} seeds for 10 plants" in text_of(response)


def test_a_loan_is_made_whatever_the_address_asks_of_the_advice(as_member, packet, member):
    as_member.post(f"/loans/new/?packet={packet.code}&plants=0&losses_percent=x")

    assert Loan.objects.get().borrower == member


def test_after_borrowing_the_loan_says_it_still(as_member, loan):
    page = text_of(as_member.get(f"/loans/{loan.pk}/", {"plants": "4"}))

    assert f"Sow {seeds(4)} seeds for 4 plants" in page


def test_a_loan_that_is_over_needs_no_advice(as_member, loan, member):
    services.close_loan(loan=loan, outcome="nothing_to_return", on=TODAY, by=member)

    page = text_of(as_member.get(f"/loans/{loan.pk}/"))

    assert "How much to sow" not in page


def test_the_packets_own_page_says_it(as_member, packet):
    page = text_of(as_member.get(f"/packets/{packet.code}/", {"losses_percent": "0"}))

    assert f"Sow {seeds(losses=0)} seeds for 10 plants" in page


def test_a_packet_that_is_gone_has_no_advice(as_desk, packet, desk):
    from library.stock.services import give_away

    give_away(lot=packet.lot, packet=packet, on=TODAY, by=desk, reason="swap")

    assert "How much to sow" not in text_of(as_desk.get(f"/packets/{packet.code}/"))


def test_its_label_says_it_in_few_words(as_desk, packet):
    page = text_of(as_desk.get(f"/lots/{packet.lot.number}/labels/"))

    assert f"Sow {seeds()} seeds for 10 plants" in page
    assert "at least 62 % sprouts, 20 % lost" in page
    assert "estimate of 15 April 2026" in page


@pytest.mark.parametrize("how_many", [1, 6])
def test_labels_cost_the_same_however_many(
    as_desk, variety, make_lot, make_estimate, how_many, django_assert_num_queries
):
    lot = make_lot(variety, packets=how_many)
    make_estimate(lot, low=0.62, median=0.8)
    as_desk.get(f"/lots/{lot.number}/labels/")

    with django_assert_num_queries(8):
        page = text_of(as_desk.get(f"/lots/{lot.number}/labels/"))

    assert page.count("Sow ") == how_many


def test_packing_suggests_what_gives_the_stand_and_fills_it_in(as_desk, packet):
    each = 5 * math.ceil(seeds() / 5)
    address = f"/lots/{packet.lot.number}/pack/"

    page = text_of(as_desk.get(address))
    filled = text_of(as_desk.get(address, {"seeds_each": str(each)}))

    assert f"<strong>{each} seeds</strong> in a packet give a stand of 10 plants." in page
    assert f'<a href="?seeds_each={each}">' in page
    assert f'name="seeds_each" value="{each}"' in filled


def test_packing_does_not_offer_more_than_the_jar_holds(
    as_desk, variety, make_lot, make_estimate
):
    lot = make_lot(variety, seeds=12)
    make_estimate(lot, low=0.62, median=0.8)

    page = text_of(as_desk.get(f"/lots/{lot.number}/pack/"))

    assert "Only 12 are in the jar." in page
    assert "seeds_each=" not in page


def test_the_library_says_what_losses_it_expects(as_member, packet):
    LendingRules.objects.update_or_create(pk=1, defaults={"expected_losses_percent": 50})

    page = text_of(as_member.get("/loans/new/", {"packet": packet.code}))

    assert f"Sow {seeds(losses=0.5)} seeds for 10 plants" in page


def test_a_guess_is_called_one(as_member, packet):
    LotEstimate.objects.all().update(evidence=[])
    packet.lot.variety.crop.species.figures.all().delete()
    packet.lot.variety.crop.species.viability_constants.delete()

    page = text_of(as_member.get("/loans/new/", {"packet": packet.code}))

    assert "This is a guess. Never tested" in page


class TestWarnings:
    SENTENCE = "Only about 55 % of this lot is likely to sprout; the library wants 70 %."

    @pytest.fixture
    def poor(self, variety, make_packet, make_estimate):
        packet = make_packet(variety)
        make_estimate(packet.lot, low=0.4, median=0.55)
        return packet

    def test_a_poor_lot_is_warned_of_and_lent_all_the_same(self, as_member, poor):
        page = text_of(as_member.get("/loans/new/", {"packet": poor.code}))

        assert self.SENTENCE in page
        assert "Borrow it" in page

    def test_the_desk_is_warned_before_and_when_handing_over(self, as_desk, poor, member):
        page = text_of(as_desk.get(f"/loans/new/?packet={poor.code}&member={member.pk}"))
        services.lend_packet(packet=poor, borrower=member, on=TODAY, by=member)

        assert self.SENTENCE in page
        assert "Under the library's standard" in text_of(as_desk.get("/desk/"))

    def test_the_loan_goes_on_warning(self, as_member, poor, lend):
        loan = lend(poor)

        assert self.SENTENCE in text_of(as_member.get(f"/loans/{loan.pk}/"))


def test_the_api_gives_the_same_advice(as_, member, packet):
    told = as_(member).get("/api/loans/guidance/", {"packet": packet.code}).json()

    assert told["seeds_to_sow"] == seeds()
    assert told["sowing_advice"] == {
        "seeds": seeds(),
        "counted_as": "seeds",
        "plants": 10,
        "losses_percent": "20.0",
        "germination_at_least_percent": 62,
        "germination_most_likely_percent": 80,
        "confidence": 0.95,
        "from_tests": True,
        "is_guess": False,
        "reason": "Enough in 19 sowings of 20, if 62 % sprouts and 20 % of the seedlings are "
        "lost to birds, slugs and weather.",
        "known_from": "from its own germination tests and how it was kept",
        "known_for": "2026-04-15",
        "source": "exact binomial distribution, then divided by the share of seedlings that "
        "is left",
        "in_few_words": [
            f"Sow {seeds()} seeds for 10 plants",
            "at least 62 % sprouts, 20 % lost",
            "estimate of 15 April 2026",
        ],
    }


def test_the_api_takes_a_stand_and_losses(as_, member, packet):
    asked = {"packet": packet.code, "plants": "4", "losses_percent": "87.5"}

    told = as_(member).get("/api/loans/guidance/", asked).json()

    assert told["seeds_to_sow"] == 8 * seeds(4, 0)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("plants", "0"),
        ("plants", "x"),
        ("plants", str(10**40)),
        ("losses_percent", "100"),
        ("losses_percent", "-0.1"),
        ("losses_percent", "NaN"),
        ("losses_percent", "1e99"),
    ],
)
def test_the_api_refuses_a_stand_that_cannot_be(as_, member, packet, field, value):
    response = as_(member).get("/api/loans/guidance/", {"packet": packet.code, field: value})

    assert response.status_code == 400
    assert response.json()["field"] == field


class TestReserve:
    def test_it_takes_the_median_of_the_estimate_and_says_so(self, packet):
        reserve = services.reserve_of(packet.lot.variety)

        assert reserve.seeds == 2 * seeds(losses=0, germination=0.8)
        assert reserve.inputs["germination_source"] == (
            f"estimate of lot {packet.lot.number} for 15 April 2026, from its tests"
        )

    def test_a_lot_that_was_tested_comes_before_a_better_prediction(
        self, packet, variety, make_lot, make_estimate
    ):
        make_estimate(make_lot(variety), low=0.5, median=0.95, tested=False)

        reserve = services.reserve_of(variety)

        assert reserve.germination.share == 0.8
        assert [lot.germination for lot in reserve.lots] == [0.8, 0.95]

    def test_where_none_was_tested_the_best_prediction_counts(
        self, variety, make_lot, make_estimate
    ):
        lot = make_lot(variety, seeds=400)
        make_estimate(lot, low=0.5, median=0.9, tested=False)

        reserve = services.reserve_of(variety)

        assert reserve.germination.share == 0.9
        assert reserve.inputs["germination_source"] == (
            f"estimate of lot {lot.number} for 15 April 2026, not tested"
        )

    def test_dead_seed_is_worth_nothing(self, packet, variety, make_lot, make_estimate):
        make_estimate(make_lot(variety, seeds=5000), low=0, median=0)

        assert services.reserve_of(variety).have == 500

    @pytest.mark.parametrize("how_many", [1, 6])
    def test_estimates_cost_no_further_query(
        self, variety, make_lot, make_estimate, how_many, django_assert_num_queries
    ):
        for _ in range(how_many):
            make_estimate(make_lot(variety), low=0.5, median=0.8)
        rules = LendingRules.current()

        with django_assert_num_queries(2):  # figures, lots; tests where there is no estimate
            services.reserve_of(variety, rules)


def test_advice_is_for_the_day_it_is_asked(packet):
    told = services.sowing_advice_for(lot=packet.lot, on=dt.date(2026, 5, 1))

    assert told.sprouting.on == dt.date(2026, 4, 15)
