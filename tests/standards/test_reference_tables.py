"""The reference tables hold together, and every figure says where it is from."""

import re
from pathlib import Path

import pytest

REFERENCE = Path(__file__).parents[2] / "fixtures" / "reference"

TABLES = sorted(path.stem for path in REFERENCE.glob("*.csv"))
HOW = re.compile(r"(read|memory|computed|common practice)( \(.+\))?")
TAGS = {"all", "treated", "f1", "ornamental_poison"}
FIGURES = {
    "isolation_m_home": "how_isolation_home",
    "isolation_m_certified": "how_isolation_certified",
    "min_population_maintain": "how_population",
    "storage_behaviour": "how_storage_behaviour",
    "longevity_years_cool_dry": "how_longevity",
    "thousand_seed_weight_g": "how_seed_weight",
    "federal_min_germination_pct": "how_federal_min",
    "state_min_germination_pct": "how_state_min",
    "germ_test_final_count_days": "how_germ_test",
    "seeds_per_gram_cfr": "how_seeds_per_gram_cfr",
}


def test_there_are_fifty_nine_species_once_each(reference, species):
    assert len(reference("species")) == len(species) == 59


@pytest.mark.parametrize("table", TABLES)
def test_every_row_is_whole(reference, table):
    rows = reference(table)

    assert rows
    assert all(None not in row and None not in row.values() for row in rows)


@pytest.mark.parametrize("table", TABLES)
def test_tables_name_no_machine(table):
    text = (REFERENCE / f"{table}.csv").read_text(encoding="utf-8")

    assert "/work" not in text
    assert "\r" not in text


@pytest.mark.parametrize(("figure", "how"), FIGURES.items())
def test_every_figure_of_a_species_says_how_it_is_known(species, figure, how):
    unmarked = {
        name for name, row in species.items() if row[figure] and not HOW.fullmatch(row[how])
    }

    assert unmarked == set()


def test_every_species_has_a_crop_and_every_crop_a_species(reference, species):
    assert {row["botanical_name"] for row in reference("crops")} == set(species)


def test_crops_are_named_once_and_described_in_known_words(reference):
    crops = reference("crops")
    names = [row["crop"].casefold() for row in crops]

    assert len(crops) == 101
    assert len(set(names)) == len(names)
    assert {row["life_cycle"] for row in crops} == {
        "annual",
        "biennial",
        "perennial",
        "clonal",
    }
    assert {row["unit"] for row in crops} == {"seed", "tuber", "clove", "slip"}


def test_only_clonal_crops_are_counted_in_anything_but_seed(reference):
    for row in reference("crops"):
        assert (row["unit"] != "seed") == (row["life_cycle"] == "clonal"), row["crop"]


def test_a_crop_lives_as_its_species_unless_the_note_says_otherwise(reference, species):
    for row in reference("crops"):
        as_species = species[row["botanical_name"]]["life_cycle"]
        if not as_species.startswith(row["life_cycle"]) and row["life_cycle"] != "clonal":
            assert row["note"], row["crop"]


def test_cautions_are_named_once_and_apply_to_what_is_there(reference, species):
    cautions = reference("cautions")
    topics = [row["topic"] for row in cautions]

    assert len(set(topics)) == len(topics)
    for row in cautions:
        assert re.fullmatch(r"[a-z0-9-]+", row["topic"])
        assert set(row["applies_to"].split(", ")) <= set(species) | TAGS
        assert HOW.fullmatch(row["how"])
        assert row["source"]


@pytest.mark.parametrize(
    ("botanical_name", "topic"),
    [
        ("Cucurbita pepo", "bitter-cucurbits"),
        ("Cucurbita pepo", "crossed-squash-seed"),
        ("Phaseolus vulgaris", "raw-beans"),
        ("Solanum tuberosum", "seed-potatoes"),
        ("Lathyrus odoratus", "sweet-pea-seed"),
        ("Ipomoea purpurea", "morning-glory-seed"),
        ("Pastinaca sativa", "umbellifer-sap"),
    ],
)
def test_what_can_hurt_someone_is_warned_of(reference, botanical_name, topic):
    applies = {row["topic"]: row["applies_to"].split(", ") for row in reference("cautions")}

    assert botanical_name in applies[topic]


def test_suspect_viability_constants_are_never_a_default(reference):
    for row in reference("viability_constants"):
        assert not (row["note"].startswith("SUSPECT") and row["recommended_default"] == "yes")
