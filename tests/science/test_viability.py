"""How seed dies in one place, along its moves, and how moist it is."""

import math
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from library.science.moisture import (
    ORDINARY_ROOM,
    assumed_climate,
    equilibrium_humidity,
    equilibrium_moisture,
    oil_percent,
    seed_moisture,
)
from library.science.viability import (
    Constants,
    Stretch,
    days_per_probit,
    days_until,
    loss_curve,
    loss_over,
    probit,
    recommended_constants,
    viability_after,
)

BARLEY = Constants(ke=9.144, cw=5.342, ch=0.0329, cq=0.000478)

shares = st.floats(0.01, 0.99)
moistures = st.floats(5, 25)
temperatures = st.floats(-20, 90)
spans = st.floats(0, 40_000)
# CH and CQ of every recommended row: the parabola has its turn below -20 °C.
constants = st.builds(
    Constants,
    ke=st.floats(4.5, 11),
    cw=st.floats(1.5, 6.5),
    ch=st.floats(0.03, 0.04),
    cq=st.floats(0.0004, 0.0006),
)


def after(**changed):
    facts = {
        "initial": 0.95,
        "moisture_percent": 10,
        "temperature_c": 20,
        "days": 365,
        "constants": BARLEY,
    }
    return viability_after(**facts | changed)


@given(shares, moistures, temperatures, spans, spans, constants)
def test_viability_never_rises_with_time(initial, moisture, temperature, days, more, species):
    place = {
        "initial": initial,
        "moisture_percent": moisture,
        "temperature_c": temperature,
        "constants": species,
    }

    sooner, later = after(days=days, **place), after(days=days + more, **place)

    assert 0 <= later <= sooner + 1e-12
    assert sooner <= initial


@given(moistures, moistures, temperatures, constants)
def test_damper_seed_dies_no_slower(one, other, temperature, species):
    drier, damper = sorted((one, other))

    assert days_per_probit(
        moisture_percent=damper, temperature_c=temperature, constants=species
    ) <= days_per_probit(moisture_percent=drier, temperature_c=temperature, constants=species)


@given(temperatures, temperatures, moistures, constants)
def test_warmer_seed_dies_no_slower(one, other, moisture, species):
    cooler, warmer = sorted((one, other))

    assert days_per_probit(
        moisture_percent=moisture, temperature_c=warmer, constants=species
    ) <= days_per_probit(moisture_percent=moisture, temperature_c=cooler, constants=species)


@given(shares, shares, st.floats(5, 12), st.floats(-20, 25), constants)
def test_the_days_until_a_target_lead_to_it(one, other, moisture, temperature, species):
    target, initial = sorted((one, other))
    place = {
        "initial": initial,
        "moisture_percent": moisture,
        "temperature_c": temperature,
        "constants": species,
    }

    days = days_until(target=target, **place)

    assert viability_after(days=days, **place) == pytest.approx(target, abs=1e-9)


def test_no_time_changes_nothing():
    assert after(days=0, initial=0.873) == 0.873


@pytest.mark.parametrize("initial", [0.0, 1.0])
def test_the_ends_of_the_scale_stay_where_the_equation_has_them(initial):
    assert after(initial=initial) == initial
    assert math.isinf(probit(initial))


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"initial": 95}, "A viability is a fraction from 0 to 1, such as 0.85, not 95."),
        ({"initial": -0.1}, "A viability is a fraction from 0 to 1, such as 0.85, not -0.1."),
        ({"days": -1}, "Days of storage are 0 or more, not -1."),
        ({"days": math.inf}, "Days of storage are 0 or more, not inf."),
        ({"days": math.nan}, "Days of storage are 0 or more, not nan."),
        (
            {"moisture_percent": 4.9},
            "The viability equation holds from 5 to 25 % moisture (fresh weight), not at "
            "4.9 %; drier seed gains nothing more, so use 5 for it.",
        ),
        (
            {"moisture_percent": 26},
            "The viability equation holds from 5 to 25 % moisture (fresh weight), not at "
            "26 %; drier seed gains nothing more, so use 5 for it.",
        ),
        (
            {"temperature_c": -21},
            "The viability equation holds from -20 to 90 °C, not at -21 °C; for colder "
            "storage use -20.",
        ),
        (
            {"temperature_c": 91},
            "The viability equation holds from -20 to 90 °C, not at 91 °C; for colder "
            "storage use -20.",
        ),
    ],
)
def test_a_value_out_of_range_is_refused_with_a_sentence(wrong, sentence):
    with pytest.raises(ValueError) as refusal:  # noqa: PT011
        after(**wrong)

    assert str(refusal.value) == sentence


@pytest.mark.parametrize("edge", [{"moisture_percent": 5}, {"moisture_percent": 25}])
@pytest.mark.parametrize("other", [{"temperature_c": -20}, {"temperature_c": 90}])
def test_the_edges_of_the_range_are_in_it(edge, other):
    assert 0 <= after(**edge, **other) <= 0.95


@pytest.mark.parametrize(
    ("initial", "target", "sentence"),
    [
        (0.8, 0.9, "does not get better: a target of 0.9 is above the initial viability of"),
        (1.0, 0.9, "The initial viability lies between 0 and 1"),
        (0.8, 0.0, "The target lies between 0 and 1"),
    ],
)
def test_an_impossible_target_is_refused(initial, target, sentence):
    with pytest.raises(ValueError, match=sentence):
        days_until(
            initial=initial,
            target=target,
            moisture_percent=8,
            temperature_c=10,
            constants=BARLEY,
        )


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"ke": math.nan}, "finite numbers"),
        ({"cw": 0}, "CW is above 0, such as 5.342, not 0"),
    ],
)
def test_constants_that_cannot_be_are_refused(wrong, sentence):
    with pytest.raises(ValueError, match=sentence):
        Constants(**{"ke": 9.0, "cw": 5.0, "ch": 0.03, "cq": 0.0005} | wrong)


def table_row(**changed):
    row = {
        "botanical_name": "Hordeum vulgare",
        "KE": "9.144",
        "CW": "5.342",
        "CH": "0.0329",
        "CQ": "0.000478",
        "recommended_default": "yes",
        "source": "a source",
        "note": "",
    }
    return row | changed


def test_only_recommended_rows_are_used_and_never_a_suspect_one():
    rows = [
        table_row(),
        table_row(recommended_default="", KE="1"),
        table_row(botanical_name="Pisum sativum", note="x; SUSPECT: outside the usual range"),
    ]

    chosen = recommended_constants(rows)

    assert chosen == {
        "Hordeum vulgare": Constants(
            ke=9.144, cw=5.342, ch=0.0329, cq=0.000478, source="a source"
        )
    }


def test_two_recommended_rows_of_one_species_are_refused():
    with pytest.raises(ValueError, match="Hordeum vulgare has two recommended rows"):
        recommended_constants([table_row(), table_row()])


@pytest.mark.parametrize(
    "given_as",
    [
        {"ke": 9.144, "cw": 5.342, "ch": 0.0329, "cq": 0.000478},
        {"KE": "9.144", "CW": "5.342", "CH": "0.0329", "CQ": "0.000478", "note": "a cell"},
        {"Ke": Decimal("9.144"), "Cw": 5.342, "Ch": np.float64(0.0329), "Cq": 0.000478},
        Constants(9.144, 5.342, 0.0329, 0.000478),
    ],
    ids=["lower case", "a row of the table", "numbers of all kinds", "in the table's order"],
)
def test_constants_are_taken_as_a_stranger_has_them(given_as):
    place = {"moisture_percent": 10, "temperature_c": 20}

    assert days_per_probit(**place, constants=given_as) == days_per_probit(
        **place, constants=BARLEY
    )
    assert viability_after(**place, initial=0.9, days=99, constants=given_as) == after(
        **place, initial=0.9, days=99
    )


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"ke": 9, "cw": 5}, "The viability constants lack CH, CQ"),
        (
            {"ke": "9,1", "cw": 5, "ch": 0.03, "cq": 0},
            "The constant KE is one number, not '9,1'",
        ),
        ((9.1, 5.3, 0.03, 0.0005), r"as Constants\(ke=…, cw=…, ch=…, cq=…\) or as a mapping"),
        ("barley", "of those four names, not as 'barley'"),
        ({"ke": 900, "cw": 5, "ch": 0.03, "cq": 0}, "10\\^.* days, which is true of no seed"),
    ],
)
def test_constants_of_another_form_are_refused(wrong, sentence):
    with pytest.raises(ValueError, match=sentence):
        days_per_probit(moisture_percent=10, temperature_c=20, constants=wrong)


@pytest.mark.parametrize("kind", [Decimal, Fraction, np.float32, np.float64, float])
def test_every_kind_of_number_will_do(kind):
    figures = {"initial": 0.75, "moisture_percent": 8, "temperature_c": 16, "days": 512}

    given_as = {name: kind(value) for name, value in figures.items()}

    assert viability_after(**given_as, constants=BARLEY) == after(**figures)


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"initial": None}, "The initial viability is one number, not None"),
        ({"initial": "98 %"}, "The initial viability is one number, not '98 %'"),
        ({"moisture_percent": [8, 9]}, "Seed moisture is one number"),
        ({"days": np.array([1, 2])}, "The time in storage is one number"),
        ({"temperature_c": "cool"}, "A storage temperature is one number, not 'cool'"),
    ],
)
def test_what_is_not_one_number_is_refused(wrong, sentence):
    with pytest.raises(ValueError, match=sentence):
        after(**wrong)


@pytest.mark.parametrize("initial", [0, 1, 0.0, 1.0])
def test_all_or_nothing_alive_stays_so(initial):
    assert after(initial=initial, days=10_000) == initial


# A lot's way through its places

CUPBOARD = Stretch(days=200, temperature_c=20, moisture_percent=10)
REFRIGERATOR = Stretch(days=1000, temperature_c=5, moisture_percent=8)
FREEZER = Stretch(days=3000, temperature_c=-18, moisture_percent=6)


def test_one_stretch_loses_what_the_equation_says():
    expected = probit(0.95) - probit(after(days=200))

    assert loss_over([CUPBOARD], BARLEY) == pytest.approx(expected)


def test_the_losses_of_the_stretches_add_up_in_any_order():
    there = loss_over([CUPBOARD, REFRIGERATOR, FREEZER], BARLEY)
    back = loss_over([FREEZER, REFRIGERATOR, CUPBOARD], BARLEY)

    assert there == pytest.approx(back)
    assert there == pytest.approx(
        sum(loss_over([place], BARLEY) for place in (CUPBOARD, REFRIGERATOR, FREEZER))
    )


def test_no_history_loses_nothing():
    assert loss_over([], BARLEY) == 0


@pytest.mark.parametrize(
    ("beyond", "edge"),
    [
        ({"moisture_percent": 3}, {"moisture_percent": 5}),
        ({"temperature_c": -40}, {"temperature_c": -20}),
    ],
)
def test_drier_or_colder_than_the_equation_knows_gains_nothing_more(beyond, edge):
    place = {"days": 100, "temperature_c": -18, "moisture_percent": 6}

    assert loss_over([Stretch(**place | beyond)], BARLEY) == loss_over(
        [Stretch(**place | edge)], BARLEY
    )


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"days": -1}, "Days of storage are 0 or more"),
        ({"temperature_c": -81}, "-80 to 90 °C, not -81"),
        ({"temperature_c": 91}, "-80 to 90 °C, not 91"),
        ({"moisture_percent": 0.9}, "1 to 25 % of its fresh weight, not 0.9"),
        ({"moisture_percent": 25.1}, "not 25.1; damper seed is not stored but dried"),
    ],
)
def test_a_stretch_that_cannot_be_is_refused(wrong, sentence):
    with pytest.raises(ValueError, match=sentence):
        Stretch(**{"days": 1, "temperature_c": 10, "moisture_percent": 8} | wrong)


def test_the_curve_follows_the_history_and_goes_on_where_the_lot_lies():
    curve = loss_curve([CUPBOARD, REFRIGERATOR], BARLEY)
    in_cold = loss_over([Stretch(days=1, temperature_c=5, moisture_percent=8)], BARLEY)

    assert curve.at(0) == 0
    assert curve.at(200) == pytest.approx(loss_over([CUPBOARD], BARLEY))
    assert curve.at(1200) == pytest.approx(loss_over([CUPBOARD, REFRIGERATOR], BARLEY))
    assert curve.at(1700) - curve.at(1200) == pytest.approx(500 * in_cold)


@given(st.floats(0, 10_000))
def test_the_day_of_a_loss_is_the_day_it_was_lost_by(day):
    curve = loss_curve([CUPBOARD, REFRIGERATOR, FREEZER], BARLEY)

    assert curve.day_of(curve.at(day)) == pytest.approx(day, abs=1e-6)


def test_a_stretch_that_begins_today_sets_what_comes():
    moved_today = Stretch(days=0, temperature_c=-18, moisture_percent=6)

    curve = loss_curve([CUPBOARD, moved_today], BARLEY)

    assert curve.at(200) == pytest.approx(loss_over([CUPBOARD], BARLEY))
    assert curve.per_day * 3000 == pytest.approx(loss_over([FREEZER], BARLEY))


def test_a_lot_kept_nowhere_has_no_curve():
    with pytest.raises(ValueError, match="needs at least one stretch"):
        loss_curve([], BARLEY)


def test_optimism_speeds_every_stretch_by_its_own_factor():
    curve = loss_curve([CUPBOARD, FREEZER], BARLEY, lambda t: 1.0 if t > 0 else 3.0)

    assert curve.at(3200) == pytest.approx(
        loss_over([CUPBOARD], BARLEY) + 3 * loss_over([FREEZER], BARLEY)
    )


# Moisture

humidities = st.floats(10, 70)
warmths = st.floats(0, 40)
oils = st.floats(0, 60)


@given(humidities, warmths, oils)
def test_moisture_and_humidity_lead_back_to_each_other(humidity, warmth, oil):
    moisture = equilibrium_moisture(
        humidity_percent=humidity, temperature_c=warmth, oil_percent=oil
    )

    assert equilibrium_humidity(
        moisture_percent=moisture, temperature_c=warmth, oil_percent=oil
    ) == pytest.approx(humidity)


@given(humidities, humidities, warmths, oils)
def test_damper_air_makes_damper_seed(one, other, warmth, oil):
    drier, damper = sorted((one, other))
    rest = {"temperature_c": warmth, "oil_percent": oil}

    assert equilibrium_moisture(humidity_percent=drier, **rest) <= equilibrium_moisture(
        humidity_percent=damper, **rest
    )


def test_oily_and_warm_seed_holds_less_water():
    def moisture(oil=5, warmth=15):
        return equilibrium_moisture(humidity_percent=40, temperature_c=warmth, oil_percent=oil)

    assert moisture(oil=40) < moisture()
    assert moisture(warmth=30) < moisture()


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"humidity_percent": 9}, "between 10 and 70 %, not 9 %; measure the seed"),
        ({"humidity_percent": 71}, "between 10 and 70 %, not 71 %"),
        ({"temperature_c": -1}, "between 0 and 40 °C, not at -1 °C"),
        ({"temperature_c": 41}, "between 0 and 40 °C, not at 41 °C"),
        ({"oil_percent": 61}, "0 to 60 % oil of its dry weight, not 61"),
    ],
)
def test_air_that_the_isotherm_does_not_know_is_refused(wrong, sentence):
    air = {"humidity_percent": 40, "temperature_c": 20, "oil_percent": 5}

    with pytest.raises(ValueError, match=sentence):
        equilibrium_moisture(**air | wrong)


@pytest.mark.parametrize(
    ("moisture", "warmth", "sentence"),
    [(0, 20, "above 0 and below 100 %, not 0"), (8, 41, "from 0 to 40 °C, not 41")],
)
def test_a_dial_that_cannot_be_predicted_is_refused(moisture, warmth, sentence):
    with pytest.raises(ValueError, match=sentence):
        equilibrium_humidity(moisture_percent=moisture, temperature_c=warmth, oil_percent=5)


def kept(**changed):
    facts = {
        "measured_percent": None,
        "humidity_percent": None,
        "temperature_c": 20,
        "oil_percent": 20,
    }
    return seed_moisture(**facts | changed)


def test_a_measured_lot_is_as_moist_as_it_was_measured():
    moisture = kept(measured_percent=7.5, humidity_percent=60)

    assert (moisture.percent, moisture.why.key) == (7.5, "moisture_measured")


def test_a_measured_place_gives_the_moisture_in_balance_with_it():
    moisture = kept(humidity_percent=45)

    assert moisture.percent == equilibrium_moisture(
        humidity_percent=45, temperature_c=20, oil_percent=20
    )
    assert moisture.why.sentence == (
        "Seed in air of 45 % humidity at 20 °C comes to about 8.9 % moisture."
    )


@pytest.mark.parametrize("air", [{"humidity_percent": 80}, {"temperature_c": -18}])
def test_air_beyond_the_isotherm_is_used_with_a_warning(air):
    moisture = kept(**{"humidity_percent": 45} | air)

    assert moisture.why.key == "moisture_beyond_isotherm"
    assert moisture.percent > kept(humidity_percent=45).percent


def test_a_place_never_measured_is_taken_for_an_ordinary_room():
    moisture = kept(kind="freezer", temperature_c=-18)

    assert moisture.why.key == "moisture_assumed"
    assert moisture.percent == kept(humidity_percent=50).percent


@pytest.mark.parametrize(("given_percent", "used"), [(3, 5), (30, 25), (9, 9)])
def test_the_moisture_is_held_to_what_the_equation_knows(given_percent, used):
    moisture = kept(measured_percent=given_percent)

    assert moisture.percent == used
    assert moisture.why.inputs["percent"] == given_percent


@pytest.mark.parametrize("humidity", [0, 100])
def test_the_driest_and_the_dampest_air_are_answered(humidity):
    assert 5 <= kept(humidity_percent=humidity).percent <= 25


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"measured_percent": 100}, "below 100 %, not 100"),
        ({"humidity_percent": 101}, "0 to 100 %, not 101"),
    ],
)
def test_impossible_moisture_is_refused(wrong, sentence):
    with pytest.raises(ValueError, match=sentence):
        kept(**wrong)


def test_the_oil_of_a_species_comes_before_that_of_its_family():
    assert oil_percent(family="Fabaceae") == 2
    assert oil_percent(family="Fabaceae", botanical_name="Glycine max") == 20
    assert oil_percent() == 15


def test_an_unknown_kind_of_place_is_an_ordinary_room():
    assert assumed_climate("box") == ORDINARY_ROOM
    assert assumed_climate("freezer").temperature_c == -18
