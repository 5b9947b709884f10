"""How much of a lot to sow, and what the advice says it is from."""

from __future__ import annotations

import datetime as dt
import math
from decimal import Decimal
from fractions import Fraction

import pytest
from scipy.stats import beta, binom

from library.catalogue.models import ViabilityConstants
from library.errors import Refused
from library.germination import advice
from library.germination.advice import Basis, sowing_advice
from library.germination.models import LotEstimate
from library.germination.services import record_test

pytestmark = pytest.mark.django_db

TODAY = dt.date(2026, 4, 15)


def fewest(plants: int, chance: float) -> int:
    """The fewest seeds that give so many plants in 19 sowings of 20, by scipy's binomial."""
    seeds = plants
    while binom.sf(plants - 1, seeds, chance) < 0.95:
        seeds += 1
    return seeds


@pytest.fixture
def lot(make_lot, variety):
    """A bean lot of which no estimate is kept."""
    lot = make_lot(variety, seeds=500)
    LotEstimate.objects.filter(lot=lot).delete()
    lot.refresh_from_db()
    return lot


@pytest.fixture
def estimated(lot, make_estimate):
    make_estimate(lot, low=0.62, median=0.8)
    return lot


def test_it_counts_on_the_lower_bound_of_the_lots_own_estimate(estimated):
    told = sowing_advice(lot=estimated, plants=20, losses_percent=0, on=TODAY)

    assert told.seeds == fewest(20, 0.62)
    assert (told.germination, told.median, told.from_tests) == (0.62, 0.8, True)


def test_birds_that_take_seven_seedlings_in_eight_cost_eight_times_the_seed(estimated):
    undisturbed = sowing_advice(lot=estimated, plants=20, losses_percent=0, on=TODAY)

    raided = sowing_advice(lot=estimated, plants=20, losses_percent=Decimal("87.5"), on=TODAY)

    assert raided.seeds == 8 * undisturbed.seeds


def test_a_fifth_is_lost_unless_something_else_is_said(estimated):
    told = sowing_advice(lot=estimated, plants=20, on=TODAY)

    assert told.seeds == math.ceil(fewest(20, 0.62) / Fraction(4, 5))
    assert told.losses_percent == 20


def test_the_words_say_what_went_in(estimated):
    told = sowing_advice(lot=estimated, plants=20, on=TODAY)

    assert told.headline == f"Sow {told.seeds} seeds for 20 plants"
    assert told.sentence == (
        "Enough in 19 sowings of 20, if 62 % sprouts and 20 % of the seedlings are lost to "
        "birds, slugs and weather."
    )
    assert [row[:2] for row in told.rows] == [
        ("plants wanted", "20"),
        ("sprouts at least", "62 %"),
        ("sprouts most likely", "80 %"),
        ("seedlings lost", "20 %"),
        ("a full stand in", "95 %"),
    ]
    assert told.rows[1][2] == "with 95 % confidence, on 15 April 2026"


def test_a_label_says_the_same_in_three_lines(estimated):
    told = sowing_advice(lot=estimated, plants=20, losses_percent=Decimal("12.5"), on=TODAY)

    assert told.lines == [
        f"Sow {told.seeds} seeds for 20 plants",
        "at least 62 % sprouts, 12.5 % lost",
        "estimate of 15 April 2026",
    ]


def test_a_prediction_from_published_constants_is_no_guess(lot, make_estimate):
    ViabilityConstants.objects.get_or_create(
        species=lot.variety.crop.species,
        defaults={"ke": 8.0, "cw": 4.0, "ch": 0.03, "cq": 0.0005, "source": "x", "how": "read"},
    )
    make_estimate(lot, low=0.5, median=0.9, tested=False)

    told = sowing_advice(lot=lot, plants=20, on=TODAY)

    assert (told.sprouting.basis, told.from_tests) == (Basis.PREDICTED, False)
    assert told.lines[2] == "never tested, predicted"


def test_a_prediction_from_how_long_its_kind_keeps_is_a_guess_and_says_so(lot, make_estimate):
    ViabilityConstants.objects.filter(species=lot.variety.crop.species).delete()
    make_estimate(lot, low=0.5, median=0.9, tested=False)

    told = sowing_advice(lot=lot, plants=20, on=TODAY)

    assert told.is_guess is True
    assert "This is a guess. Never tested; worked out from how it was kept." in told.sentence
    assert told.sentence.endswith("about 3 years.")


def test_where_nothing_is_published_the_guess_says_so(lot, make_estimate):
    species = lot.variety.crop.species
    ViabilityConstants.objects.filter(species=species).delete()
    species.figures.all().delete()
    make_estimate(lot, low=0.3, median=0.7, tested=False)

    told = sowing_advice(lot=lot, plants=20, on=TODAY)

    assert "This is a guess." in told.sentence
    assert "Nobody wrote down how long this species keeps" in told.sentence
    assert told.lines[2] == "a guess, never tested"


def test_without_a_kept_estimate_one_is_made_now(lot, desk):
    record_test(
        lot=lot,
        replicates=[{"seeds": 100, "normal": 85, "dead": 15}],
        started_on=dt.date(2026, 4, 1),
        closed_on=dt.date(2026, 4, 10),
        by=desk,
    )
    kept = LotEstimate.objects.get(lot=lot)
    LotEstimate.objects.all().delete()
    lot.refresh_from_db()

    told = sowing_advice(lot=lot, plants=20, on=kept.on)

    assert (told.germination, told.median) == pytest.approx((kept.low, kept.median))
    assert (told.from_tests, told.sprouting.on) == (True, kept.on)


def test_what_nothing_can_predict_counts_on_its_newest_test(make_variety, make_lot, desk):
    """One-sided 95 % bound by Clopper and Pearson (1934), here from scipy's beta."""
    garlic = make_variety(crop="garlic", breeding_status="clone")
    lot = make_lot(garlic, seeds=200, counted_as="clove")
    record_test(
        lot=lot,
        replicates=[{"seeds": 20, "normal": 17, "dead": 3}],
        started_on=dt.date(2026, 3, 1),
        closed_on=dt.date(2026, 3, 10),
        by=desk,
    )

    told = sowing_advice(lot=lot, plants=10, losses_percent=0, on=TODAY)

    assert told.germination == pytest.approx(beta.ppf(0.05, 17, 4), abs=1e-6)
    assert (told.median, told.from_tests) == (0.85, True)
    assert told.unit == "cloves"


def test_what_nothing_is_known_of_is_taken_to_sprout_as_the_library_wants(
    make_variety, make_lot
):
    garlic = make_variety(crop="garlic", breeding_status="clone")
    lot = make_lot(garlic, seeds=200, counted_as="clove")

    told = sowing_advice(lot=lot, plants=10, losses_percent=0, on=TODAY)

    assert (told.germination, told.is_guess) == (0.7, True)
    assert told.seeds == fewest(10, 0.7)
    assert "as the library wants its seed to" in told.sentence


def test_an_almost_dead_lot_makes_no_promise(lot, make_estimate):
    make_estimate(lot, low=0.001, median=0.02)

    told = sowing_advice(lot=lot, plants=20, losses_percent=0, on=TODAY)

    assert told.seeds == fewest(20, 0.05)
    assert "do not count on a full stand" in told.sentence


def test_a_packet_holds_the_advice_in_whole_fives(estimated):
    told = sowing_advice(lot=estimated, plants=20, on=TODAY)

    assert advice.packet_seeds(told) == 5 * math.ceil(told.seeds / 5)


def test_fewer_seeds_give_fewer_plants(estimated):
    told = sowing_advice(lot=estimated, plants=20, losses_percent=50, on=TODAY)

    assert told.plants_from(20) == 8


@pytest.mark.parametrize(
    ("wish", "field", "sentence"),
    [
        ({"plants": 0}, "plants", "0 is out of range: give a whole number from 1 to 100000."),
        (
            {"plants": 10**30},
            "plants",
            f"{10**30} is out of range: give a whole number from 1 to 100000.",
        ),
        (
            {"losses_percent": 100},
            "losses_percent",
            "Expected losses are 0 to 99 %, not 100.",
        ),
        (
            {"losses_percent": -1},
            "losses_percent",
            "Expected losses are 0 to 99 %, not -1.",
        ),
        (
            {"losses_percent": float("nan")},
            "losses_percent",
            "Expected losses are 0 to 99 %, not nan.",
        ),
    ],
)
def test_what_cannot_be_wished_is_refused_with_a_sentence(estimated, wish, field, sentence):
    with pytest.raises(Refused) as refusal:
        sowing_advice(lot=estimated, on=TODAY, **({"plants": 20} | wish))

    assert (refusal.value.field, str(refusal.value)) == (field, sentence)


def test_a_lot_under_the_standard_is_warned_of(lot, make_estimate):
    make_estimate(lot, low=0.4, median=0.55)

    assert advice.warning_of(lot) == (
        "Only about 55 % of this lot is likely to sprout; the library wants 70 %. Sow more of "
        "it, or choose another lot."
    )


def test_a_lot_to_regrow_is_warned_of(lot, make_estimate):
    make_estimate(lot, low=0.7, median=0.78, regrow_rule="regrow_below_initial")

    assert advice.warning_of(lot).startswith(
        "This lot is losing its life and should be regrown"
    )


def test_a_good_lot_and_an_unknown_one_are_not_warned_of(lot, make_estimate):
    unknown = advice.warning_of(lot)
    make_estimate(lot, low=0.7, median=0.7)

    assert (unknown, advice.warning_of(lot)) == ("", "")
