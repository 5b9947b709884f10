"""A chain of rows is measured as the science measures the same chain of plain data."""

from __future__ import annotations

import string

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from library.provenance import measuring
from library.provenance.assumptions import SENTENCES, assumptions
from library.provenance.chain import chain_up
from library.provenance.figures import brief_percent, percent, size
from library.provenance.measuring import chain_data, is_bottleneck, measure
from library.science.genetics import dioecious_size
from library.science.reasons import COMMON_PRACTICE, ENGLISH, because
from library.stock.models import ForeignLot, Lot


def measured(lot: Lot):
    return measure(chain_up(Lot.objects.get(pk=lot.pk)))


def by_key(measures):
    return {one.key: one for one in measures.measures}


@pytest.fixture
def maize(make_variety):
    return make_variety("Field Lantern", crop="sweetcorn")


@pytest.fixture
def spinach(make_variety):
    return make_variety("Ghyll Leaf", crop="spinach")


@pytest.fixture
def potato(make_variety):
    return make_variety("Fell Floury", crop="potato", breeding_status="clone")


def test_a_deposit_has_kept_everything_and_grown_nothing(note_lot, maize):
    found = measured(note_lot("A", of=maize))

    assert found.diversity.kept == 1
    assert by_key(found)["effective_size"].number is None
    assert found.narrowest is None
    assert found.bottlenecks == []


def test_a_crop_that_crosses_loses_one_in_two_n_each_time(note_lot, maize):
    """Falconer & Mackay 1996, ch. 3: (1 - 1/(2N)) for each generation."""
    note_lot("A", of=maize)
    note_lot("B", {"A": 1}, plants=20, of=maize)

    found = measured(note_lot("C", {"B": 1}, plants=5, of=maize))

    assert found.diversity.kept == pytest.approx((1 - 1 / 40) * (1 - 1 / 10))
    assert found.narrowest.number == "C"
    assert by_key(found)["gene_diversity_kept"].number == found.diversity.kept


def test_a_crop_that_pollinates_itself_counts_half_its_plants(note_lot, variety):
    """Ne = N / (1 + F) with F = 1: Crow & Kimura 1970 (from memory)."""
    note_lot("A")

    found = measured(note_lot("B", {"A": 1}, plants=20))

    assert found.of(found.lots["B"]).effective_size == 10
    assert any("pollinates itself" in sentence for sentence in found.assumed)


def test_a_bulk_and_a_part_of_a_jar_only_mix(note_lot, maize):
    note_lot("A", of=maize)
    note_lot("B", {"A": 1}, plants=10, of=maize)
    note_lot("C", {"A": 1}, plants=10, of=maize)
    note_lot("D", {"B": 0.5, "C": 0.5}, origin="bulk", of=maize)
    note_lot("E", {"D": 1}, origin="deposit", of=maize)

    found = measured(Lot.objects.get(number="E"))

    assert found.data["lots"]["E"] == {"parents": {"D": 1.0}, "mating": "bulk"}
    # Half of two seeds are of the same half, whose two genes come of one plant in 20.
    assert found.diversity.kept == pytest.approx(1 - 0.5 / 20)
    assert found.of(found.lots["D"]).effective_size is None


def test_an_uneven_chain_counts_each_way_by_its_share(note_lot, maize):
    note_lot("A", of=maize)
    note_lot("B", {"A": 1}, plants=8, of=maize)
    note_lot("C", {"A": 0.25, "B": 0.75}, plants=30, of=maize)

    found = measured(Lot.objects.get(number="C"))

    assert found.data["lots"]["C"]["parents"] == {"B": 0.75, "A": 0.25}
    assert by_key(found)["generations"].number == pytest.approx(1.75)
    assert by_key(found)["generations"].value == "1 to 2"


def test_a_lot_of_another_library_counts_as_it_came_about_there(note_lot, maize):
    for number, parents, there in (("A", None, "deposit"), ("B", {"A": 1}, "return")):
        lot = note_lot(number, parents, plants=4, origin="elsewhere", of=maize)
        ForeignLot.objects.create(lot=lot, library="Ghyll", number=number, origin_there=there)
    note_lot("C", {"B": 1}, origin="deposit", of=maize)

    found = measured(Lot.objects.get(number="C"))

    assert found.of(found.lots["B"]).effective_size == 4
    assert found.data["lots"]["C"]["mating"] == "bulk"
    assert found.diversity.kept == pytest.approx(1 - 1 / 8)


def test_a_clone_loses_nothing(note_lot, potato):
    note_lot("A", of=potato, counted_as="tuber")
    note_lot("B", {"A": 1}, plants=1, of=potato, counted_as="tuber")

    found = measured(Lot.objects.get(number="B"))

    assert found.data["lots"]["B"]["mating"] == "clonal"
    assert found.diversity.kept == 1
    assert found.bottlenecks == []
    assert [row.kept for row in found.alleles] == [1]


def test_a_clonal_crop_that_is_no_single_clone_loses_what_was_not_planted(
    note_lot, make_variety
):
    mixed = make_variety("Garth Mixed", crop="potato", breeding_status="landrace")
    note_lot("A", of=mixed, counted_as="tuber")

    found = measured(note_lot("B", {"A": 1}, plants=2, of=mixed, counted_as="tuber"))

    assert found.diversity.kept == pytest.approx(0.75)


def test_where_the_sexes_are_apart_both_count(note_lot, spinach):
    """Ne = 4 Nm Nf / (Nm + Nf): Wright 1931 (from memory); 2 and 20 make 7.27."""
    note_lot("A", of=spinach)

    found = measured(note_lot("B", {"A": 1}, plants=20, males=2, of=spinach))

    assert found.data["lots"]["B"] == {
        "parents": {"A": 1.0},
        "mating": "dioecious",
        "females": 20,
        "males": 2,
    }
    assert found.of(found.lots["B"]).effective_size == pytest.approx(dioecious_size(2, 20))
    assert round(dioecious_size(2, 20), 6) == 7.272727


def test_what_was_not_noted_is_assumed_and_said(note_lot, spinach, maize):
    note_lot("A", of=maize)
    note_lot("B", {"A": 1}, of=maize)
    note_lot("C", {"B": 1}, stood=7, of=maize)
    note_lot("D", {"C": 1}, plants=0, of=maize)
    crossed = measured(Lot.objects.get(number="D"))
    note_lot("S", of=spinach)
    sexes = measured(note_lot("T", {"S": 1}, plants=9, of=spinach))

    text = " ".join(crossed.assumed)
    assert "B and D: 20 are assumed" in text
    assert "C: all 7 that stood" in text
    assert "T: 9 are assumed beside 9 females" in " ".join(sexes.assumed)


def test_what_is_only_assumed_is_never_called_a_bottleneck(note_lot, maize):
    """Of maize 100 plants are kept; 20 that nobody counted are no news of a bottleneck."""
    note_lot("A", of=maize)
    note_lot("B", {"A": 1}, of=maize)
    note_lot("C", {"B": 1}, stood=20, of=maize)

    found = measured(Lot.objects.get(number="C"))

    assert found.population == 100
    assert [lot.number for lot in found.bottlenecks] == ["C"]
    assert found.narrowest.number == "B"
    assert found.is_assumed(found.narrowest)
    assert "that number is assumed" in by_key(found)["narrowest"].sentence


def test_an_f1_that_was_made_here_has_two_sides(note_lot, make_variety):
    crop = "tomato"
    one, other = make_variety("Ash", crop=crop), make_variety("Elm", crop=crop)
    both = make_variety("Ashelm", crop=crop, breeding_status="f1")
    note_lot("A", of=one)
    note_lot("B", of=other)

    found = measured(note_lot("C", {"A": 0.5, "B": 0.5}, plants=2, males=3, of=both))

    assert found.data["lots"]["C"] == {
        "mating": "cross",
        "parents": {"A": 1.0},
        "pollen_parents": {"B": 1.0},
        "plants": 2,
        "pollen_plants": 3,
    }
    assert found.line.generation == 1
    assert any("A is taken to be" in sentence for sentence in found.assumed)


def test_an_f1_of_which_one_parent_is_known_says_so(note_lot, make_variety):
    one = make_variety("Ash", crop="tomato")
    hybrid = make_variety("Ashelm", crop="tomato", breeding_status="f1")
    note_lot("A", of=one)

    found = measured(note_lot("C", {"A": 1}, plants=2, of=hybrid))

    assert any("is not in the chain" in sentence for sentence in found.assumed)


def test_the_chain_of_a_line_agrees_with_the_line(note_lot, make_variety):
    """(1/2)^(n - 1) of the F1's genes still vary: any genetics text (from memory)."""
    hybrid = make_variety("Ashelm", crop="tomato", breeding_status="f1")
    line = make_variety(
        "Ashelm line", crop="tomato", breeding_status="segregating", generation=4
    )
    note_lot("A", of=hybrid)
    for number, parent in (("B", "A"), ("C", "B"), ("D", "C")):
        note_lot(number, {parent: 1}, plants=30, of=line)

    found = measured(Lot.objects.get(number="D"))

    assert (found.line.generation, found.line.counted) == (4, True)
    assert found.line.heterozygosity == 0.125
    assert 1 - found.diversity.inbreeding == pytest.approx(0.125)
    assert found.line.remarks == ()
    assert [row.frequency for row in found.alleles] == [0.5]


def test_twenty_and_a_hundred_lots_take_as_many_queries(note_lot, maize):
    note_lot("0", of=maize)
    counts = []
    for length in (20, 100):
        for n in range(Lot.objects.count(), length):
            note_lot(str(n), {str(n - 1): 1}, plants=20, of=maize)
        lot = Lot.objects.get(number=str(length - 1))
        with CaptureQueriesContext(connection) as queries:
            found = measure(chain_up(lot))
            assert len(found.alleles) == 4
        counts.append(len(queries))
        assert len(found.lots) == length

    assert counts == [4, 4]  # the walk, its lots, their variety, plants that keep the species


def test_shares_that_miss_a_little_are_made_whole(note_lot, maize):
    for number in "ABC":
        note_lot(number, of=maize)

    lot = note_lot("D", dict.fromkeys("ABC", 0.333333), origin="bulk", of=maize)

    assert sum(chain_data(chain_up(lot))["lots"]["D"]["parents"].values()) == pytest.approx(1)


@pytest.mark.parametrize(
    ("size", "population", "narrow"),
    [(9.9, 20, True), (10, 20, False), (4.9, None, True), (5, None, False), (None, 20, False)],
)
def test_a_bottleneck_is_under_half_of_what_keeps_the_variety(size, population, narrow):
    assert is_bottleneck(size, population) is narrow


def test_the_cards_own_figure_goes_before_the_species(note_lot, make_variety):
    small = make_variety("Small Lantern", crop="sweetcorn", min_population=8)
    note_lot("A", of=small)

    found = measured(note_lot("B", {"A": 1}, plants=4, of=small))

    assert found.population == 8
    assert found.bottlenecks == []


OURS = [key for key in ENGLISH if key.startswith("chain_")]


@pytest.mark.parametrize("key", OURS)
def test_every_assumption_has_a_sentence_with_the_same_numbers(key):
    def fields(text):
        return {field for _text, field, _spec, _conv in string.Formatter().parse(text) if field}

    assert fields(str(SENTENCES[key])) == fields(ENGLISH[key])


def test_no_sentence_is_left_over():
    assert set(SENTENCES) == set(OURS)


def test_the_same_assumption_is_said_once_and_names_the_first_of_many():
    reasons = [
        because("chain_plants_assumed", COMMON_PRACTICE, lot=f"L{n}", plants=20)
        for n in range(30)
    ]

    (sentence,) = assumptions(reasons)

    assert "L0, L1," in sentence
    assert "and 18 more lots" in sentence


def test_a_percentage_is_never_more_certain_than_the_number():
    assert percent(1) == "100.0 %"
    assert percent(0.99999) == "more than 99.9 %"
    assert percent(0.00001) == "less than 0.1 %"
    assert percent(0) == "0.0 %"


def test_numbers_are_rounded_and_not_cut_off():
    assert percent(0.015625) == "1.6 %"
    assert percent(0.0625) == "6.3 %"
    assert brief_percent(0.05) == "5 %"
    assert brief_percent(0.975) == "97.5 %"
    assert size(1.1667) == "1.2"
    assert size(19.99) == "20"


def test_what_was_worked_out_is_remembered_until_a_fact_of_the_chain_changes(
    note_lot, maize, monkeypatch
):
    note_lot("A", of=maize)
    lot = note_lot("B", {"A": 1}, plants=5, of=maize)
    first = measured(lot).alleles
    worked_out = []
    monkeypatch.setattr(
        measuring, "alleles_kept", lambda *asked: worked_out.append(asked) or first
    )

    assert measured(lot).alleles == first
    assert worked_out == []
    lot.growing.plants_gave_seed = 6
    lot.growing.save()
    assert measured(lot).alleles
    assert len(worked_out) == 1
