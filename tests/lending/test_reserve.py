"""What must stay to regrow a variety, and what a borrower is told."""

from __future__ import annotations

import datetime as dt
import math
from fractions import Fraction

import pytest
from scipy.stats import binom

from accounts.models import Garden
from library.catalogue.models import BreedingStatus
from library.germination.models import LotEstimate
from library.germination.services import record_test
from library.lending import sentences, services
from library.lending.models import LendingRules
from library.science.reasons import ENGLISH
from library.stock.services import withhold
from tests.lending.conftest import TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def tested(desk, make_lot):
    """``tested(variety, normal=80)``: a lot of 500 of which 100 were tested, and no estimate is
    kept.
    """

    def make(variety, *, normal: int, seeds: int = 500):
        lot = make_lot(variety, seeds=seeds, packets=1)
        dish = {"seeds": 100, "normal": normal, "dead": 100 - normal}
        record_test(
            lot=lot,
            replicates=[dish],
            started_on=dt.date(2026, 3, 1),
            closed_on=dt.date(2026, 3, 10),
            by=desk,
        )
        LotEstimate.objects.filter(lot=lot).delete()
        lot.refresh_from_db()
        return lot

    return make


def fewest(plants: int, chance: float, confidence: float = 0.95) -> int:
    """The fewest seeds that give so many plants, counted out with scipy's binomial."""
    seeds = plants
    while binom.sf(plants - 1, seeds, chance) < confidence:
        seeds += 1
    return seeds


def test_the_reserve_of_untested_seed_takes_the_federal_minimum(variety, make_lot):
    """Bean, garden: 70 % (7 CFR 201.31); ten plants (the species' figure); two sowings."""
    make_lot(variety, seeds=500)

    reserve = services.reserve_of(variety)

    assert reserve.seeds == 2 * fewest(10, 0.70)
    assert (reserve.have, reserve.lendable) == (500, 500 - reserve.seeds)
    assert "201.31" in reserve.inputs["germination_source"]


def test_the_best_tested_lot_decides_how_many_seeds_a_sowing_needs(variety, tested):
    lot = tested(variety, normal=92)

    reserve = services.reserve_of(variety)

    assert reserve.seeds == 2 * fewest(10, 0.92)
    assert lot.number in reserve.inputs["germination_source"]


def test_a_lot_that_sprouts_worse_counts_for_less(variety, tested):
    tested(variety, normal=80)
    tested(variety, normal=40)

    reserve = services.reserve_of(variety)

    assert [lot.worth for lot in reserve.lots] == [400, 200]
    assert reserve.have == 600


def test_dead_seed_is_no_reserve(variety, tested):
    tested(variety, normal=80, seeds=130)
    tested(variety, normal=0, seeds=5000)

    assert services.reserve_of(variety).have == 30


def test_withheld_seed_is_no_reserve(variety, make_lot, coordinator):
    lot = make_lot(variety, seeds=500)
    withhold(lot=lot, reason="it crossed", by=coordinator)

    assert services.reserve_of(variety).have == 0


def test_the_newest_test_of_a_lot_counts(variety, tested, desk):
    lot = tested(variety, normal=90)
    record_test(
        lot=lot,
        replicates=[{"seeds": 100, "normal": 50, "dead": 50}],
        started_on=dt.date(2026, 4, 1),
        closed_on=dt.date(2026, 4, 10),
        by=desk,
    )
    LotEstimate.objects.all().delete()

    assert services.reserve_of(variety).inputs["germination_percent"] == 50


def test_a_hybrid_cannot_be_regrown_and_has_no_reserve(make_variety, make_lot):
    hybrid = make_variety(breeding_status=BreedingStatus.F1)
    make_lot(hybrid, seeds=20)

    reserve = services.reserve_of(hybrid)

    assert (reserve.seeds, reserve.lendable) == (0, 20)


def test_a_library_may_keep_no_reserve(variety, make_packet, lend):
    LendingRules.objects.update_or_create(pk=1, defaults={"reserve_sowings": 0})

    assert lend(make_packet(variety, seeds=20)).is_open


def test_the_variety_may_say_how_many_plants_keep_it(make_variety, make_lot):
    small = make_variety(crop="drying bean", min_population=4)
    make_lot(small, seeds=100)

    assert services.reserve_of(small).seeds == 2 * fewest(4, 0.70)


@pytest.mark.parametrize(("crop", "plants"), [("zinnia", 100), ("sweet pea", 20)])
def test_without_a_figure_the_rule_of_thumb_is_taken_and_said(
    make_variety, make_lot, crop, plants
):
    """20 for inbreeders, 100 for outbreeders: Growing for Market, read for the reference."""
    flower = make_variety(crop=crop)

    inputs = services.reserve_of(flower).inputs

    assert inputs["plants"] == plants
    assert inputs["plants_source"].startswith("Growing for Market")


def test_the_last_packet_above_the_reserve_is_lent_and_the_next_is_not(
    variety, make_lot, lend, other_member
):
    kept = services.reserve_of(variety).seeds
    first, second = make_lot(variety, seeds=kept + 20, packets=2).packets.all()

    lend(first)

    assert services.reserve_of(variety).lendable == 0
    assert "down to its reserve" in services.why_not_lend(packet=second, borrower=other_member)


class TestGuidance:
    @pytest.fixture
    def guide(self, valley):
        def tell(variety, *, garden=None, on=TODAY, lot=None):
            return services.guidance_for(variety=variety, lot=lot, garden=garden, on=on)

        return tell

    def test_the_stand_and_the_seeds_for_it(self, guide, variety):
        guidance = guide(variety)

        assert guidance.population.plants == 10
        assert guidance.advice.seeds == math.ceil(fewest(10, 0.70) / Fraction(4, 5))
        assert guidance.advice.is_guess is True

    def test_the_distance_is_at_least_and_has_its_source(self, guide, variety):
        isolation = guide(variety).isolation

        assert (isolation.metres, isolation.how) == (6, "read")
        assert isolation.protection.startswith("It pollinates itself")

    def test_a_clone_needs_no_distance(self, guide, make_variety):
        isolation = guide(make_variety(crop="garlic", breeding_status="clone")).isolation

        assert isolation.metres is None
        assert "pollen does not matter" in isolation.protection

    def test_an_annual_is_sown_early_enough_for_its_seed(self, guide, make_variety):
        bean = make_variety(crop="drying bean", days_to_maturity=80)

        guidance = guide(bean)

        assert guidance.sowing.opens == dt.date(2026, 5, 10)
        assert guidance.sowing.closes == dt.date(2026, 6, 2)
        assert guidance.ripe.ripe_on == dt.date(2026, 9, 12)

    @pytest.mark.parametrize("crop", ["drying bean", "carrot", "garlic"])
    def test_days_that_begin_at_the_last_frost_say_that_hardiness_is_not_known(
        self, guide, make_variety, crop
    ):
        told = guide(make_variety(crop=crop)).sowing_reason

        assert "None of our sources says how hardy this crop is" in told

    def test_a_biennial_is_sown_this_year_and_ripe_the_next(self, guide, make_variety):
        guidance = guide(make_variety(crop="carrot"))

        assert guidance.sowing.closes == dt.date(2026, 7, 7)
        assert guidance.ripe.ripe_on == dt.date(2027, 9, 7)
        assert guidance.due.seed_ripe_on == guidance.ripe.ripe_on

    def test_lent_too_late_it_is_for_the_next_season(self, guide, variety):
        guidance = guide(variety, on=dt.date(2026, 9, 1))

        assert guidance.sowing.opens == dt.date(2027, 5, 10)

    def test_without_frost_dates_there_is_no_sowing_window_but_a_due_date(self, variety, db):
        guidance = services.guidance_for(variety=variety, lot=None, garden=None, on=TODAY)

        assert (guidance.sowing, guidance.ripe) == (None, None)
        assert guidance.frost_dates_from == "unknown"
        assert guidance.due.due_on == dt.date(2027, 6, 14)

    def test_the_garden_comes_before_the_community(self, guide, variety, garden):
        guidance = guide(variety, garden=garden)

        assert guidance.frost_dates_from == "garden"
        assert guidance.sowing.opens == dt.date(2026, 4, 20)

    def test_a_season_below_the_equator_spans_the_new_year(self, guide, variety, member):
        south = Garden.objects.create(
            member=member, name="South", last_spring_frost="10-05", first_autumn_frost="04-20"
        )

        guidance = guide(variety, garden=south, on=dt.date(2026, 8, 1))

        assert guidance.sowing.opens == dt.date(2026, 10, 5)
        assert guidance.due.due_on == dt.date(2027, 4, 3)

    @pytest.mark.parametrize(
        ("crop", "words"),
        [("drying bean", "red kidney beans"), ("courgette", "bitter"), ("potato", "solanine")],
    )
    def test_the_cautions_of_the_species_are_shown(self, guide, make_variety, crop, words):
        told = " ".join(caution.text for caution in guide(make_variety(crop=crop)).cautions)

        assert words in told

    def test_the_varietys_own_caution_comes_first(self, guide, make_variety):
        spiny = make_variety(own_caution="Its stems prick.")

        assert guide(spiny).cautions[0].text == "Its stems prick."

    def test_a_segregating_line_is_announced_as_such(self, guide, make_variety):
        line = make_variety(breeding_status="segregating", generation=3, days_to_maturity=60)

        assert guide(line).warnings == (
            "This line is still segregating (F3): its plants will differ.",
        )

    def test_an_assumed_number_is_said_to_be_assumed(self, guide, variety):
        assert guide(variety).warnings == (
            "Nobody wrote down its days to maturity; 75 days are assumed.",
        )


TOLD = [key for key in ENGLISH if key.startswith(("due_", "sow_", "ripe_"))]


@pytest.mark.parametrize("key", TOLD)
def test_every_rule_of_the_calendar_has_a_sentence_of_ours(key):
    import string

    needed = {field for _text, field, _spec, _conv in string.Formatter().parse(ENGLISH[key])}
    ours = string.Formatter().parse(str(sentences.SENTENCES[key]))

    assert {field for _text, field, _spec, _conv in ours} - {None} <= needed


def test_a_rule_that_is_forgotten_has_no_sentence():
    assert sentences.sentence("by_the_moon", {"day": "2026-04-15"}) == ""
