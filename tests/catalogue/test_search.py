"""Finding varieties by any of their names."""

import pytest

from library.catalogue.models import Variety
from library.catalogue.search import search


def found(text: str) -> list[str]:
    return [variety.name for variety in search(Variety.objects.all(), text).varieties]


@pytest.fixture
def shelf(make_variety):
    make_variety("Tarn Kettle", crop="drying bean", synonyms=["Black Pot"])
    make_variety("Kettle Moss", crop="lettuce")
    make_variety("Kettleby", crop="cabbage")
    make_variety("Crème Lantern", crop="pumpkin")
    make_variety("Kestrel Red", crop="tomato")
    make_variety("Potbelly", crop="courgette")


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("Tarn Kettle", ["Tarn Kettle"]),
        ("tarn kettle", ["Tarn Kettle"]),
        ("  TARN   kettle ", ["Tarn Kettle"]),
        ("black pot", ["Tarn Kettle"]),
        ("creme lantern", ["Crème Lantern"]),
        ("CRÈME", ["Crème Lantern"]),
        ("red kestrel", ["Kestrel Red"]),
    ],
)
def test_a_variety_is_found_by_any_of_its_names(shelf, text, names):
    assert found(text)[: len(names)] == names


def test_names_that_begin_with_the_text_come_before_those_that_contain_it(shelf):
    assert found("kettle") == ["Kettle Moss", "Kettleby", "Tarn Kettle"]


def test_a_whole_name_comes_before_a_longer_one(make_variety):
    for name in ["Kettle Moss", "Amber Kettle", "Kettle"]:
        make_variety(name)

    assert found("kettle") == ["Kettle", "Kettle Moss", "Amber Kettle"]


@pytest.mark.parametrize("text", ["tomato", "tomatoes", "Solanum lycopersicum"])
def test_a_crop_or_its_species_finds_its_varieties(make_variety, text):
    for name in ["Amber", "Brindle", "Copper"]:
        make_variety(name, crop="tomato")
    make_variety("Drum", crop="cabbage")

    assert found(text) == ["Amber", "Brindle", "Copper"]


@pytest.mark.parametrize(
    ("misspelt", "meant"),
    [
        ("tarn ketle", "Tarn Kettle"),
        ("kestral", "Kestrel Red"),
        ("kestrl red", "Kestrel Red"),
        ("creem lantern", "Crème Lantern"),
        ("tarnkettle", "Tarn Kettle"),
        ("blak pott", "Tarn Kettle"),
    ],
)
def test_a_name_spelt_nearly_so_is_found_and_asked_for(shelf, misspelt, meant):
    result = search(Variety.objects.all(), misspelt)

    assert result.varieties[0].name == meant
    assert len(result.did_you_mean) >= 1


def test_what_was_perhaps_meant_is_named_by_the_name_that_was_meant(shelf):
    result = search(Variety.objects.all(), "blak pott")

    assert result.did_you_mean[0] == "Black Pot"


@pytest.mark.parametrize("text", ["xyzzyx", "qq", "%", "_", "'; drop table", "\\", "💥" * 40])
def test_nonsense_finds_nothing(shelf, text):
    assert found(text) == []


def test_a_percent_sign_in_a_name_is_only_a_sign(make_variety):
    make_variety("%")
    make_variety("Amber")

    assert found("%") == ["%"]


def test_no_text_leaves_everything(shelf):
    assert len(found("   ")) == 6


def test_the_search_stays_within_what_was_chosen(shelf):
    beans = Variety.objects.filter(crop__name="drying bean")

    result = search(beans, "kestral")

    assert (list(result.varieties), result.did_you_mean) == ([], [])


@pytest.mark.parametrize("shelf_size", [1, 6])
@pytest.mark.parametrize("text", ["lantern", "lantrn"])
def test_a_search_costs_the_same_whatever_the_shelf_holds(
    make_variety, django_assert_num_queries, shelf_size, text
):
    for number in range(shelf_size):
        make_variety(f"Lantern {number}")
    # Crops, a look for few or many, the names spelt nearly so where few were found, the rows.
    many = text == "lantern" and shelf_size == 6

    with django_assert_num_queries(3 if many else 4):
        rows = list(search(Variety.objects.all(), text).varieties)

    assert len(rows) == shelf_size
