"""The reference files in the card file, compared with the files themselves."""

import csv
import shutil
from decimal import Decimal

import pytest
from django.core.management import CommandError, call_command

from library.catalogue.models import (
    Caution,
    Crop,
    ReferenceFile,
    Species,
    SpeciesFigure,
    Variety,
    ViabilityConstants,
)
from library.catalogue.reference import DIRECTORY, FILES, load_reference
from library.errors import Refused

# Each column of species.csv that holds a figure, read here by hand and not from the loader.
VALUE_COLUMNS = {
    "isolation_m_home": "isolation_home_m",
    "isolation_m_certified": "isolation_certified_m",
    "min_population_maintain": "min_population",
    "storage_behaviour": "storage_behaviour",
    "longevity_years_cool_dry": "longevity_years",
    "thousand_seed_weight_g": "thousand_seed_weight_g",
    "seeds_per_gram_cfr": "seeds_per_gram_cfr",
    "federal_min_germination_pct": "federal_min_percent",
    "state_min_germination_pct": "state_min_percent",
    "germ_test_temp_c": "test_temperature_c",
    "germ_test_first_count_days": "test_first_count_days",
    "germ_test_final_count_days": "test_final_count_days",
    "germ_test_special": "test_directions",
    "germ_test_substrata": "test_substrate",
}


def rows(name: str) -> list[dict[str, str]]:
    with (DIRECTORY / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture
def unread(db):
    """A database into which no reference was read."""
    for model in (Crop, Caution, Species, ReferenceFile):
        model.objects.all().delete()


@pytest.fixture
def copied(tmp_path):
    for name in FILES:
        shutil.copy(DIRECTORY / name, tmp_path / name)
    return tmp_path


def rewrite(path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert text.count(old) > 0
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_every_species_crop_and_caution_of_the_files_is_there(reference):
    found = (Species.objects.count(), Crop.objects.count(), Caution.objects.count())

    assert found == (59, len(rows("crops.csv")), len(rows("cautions.csv")))
    assert len(rows("species.csv")) == 59


def test_every_figure_of_the_file_is_there_as_it_is_written_and_no_other(reference):
    expected = {
        (row["botanical_name"], VALUE_COLUMNS[column], row[column])
        for row in rows("species.csv")
        for column in VALUE_COLUMNS
        if row[column]
    }

    def written(figure: SpeciesFigure) -> str:
        return figure.text or f"{figure.number.normalize():f}"

    loaded = {
        (figure.species.botanical_name, figure.quantity, written(figure))
        for figure in SpeciesFigure.objects.select_related("species")
    }

    def plain(value: str) -> str:
        try:
            return f"{Decimal(value).normalize():f}"
        except ArithmeticError:
            return value

    assert loaded == {(name, quantity, plain(value)) for name, quantity, value in expected}


def test_every_figure_says_where_it_is_from_and_how_far_to_trust_it(reference):
    figures = SpeciesFigure.objects.all()

    unsourced = [figure for figure in figures if not figure.source.strip()]
    hows = {figure.how for figure in figures}

    assert figures.count() > 500
    assert unsourced == []
    assert hows == {"read", "memory", "common practice"}


def test_a_range_stays_as_it_is_written(reference):
    soybean = SpeciesFigure.objects.get(
        species__botanical_name="Glycine max", quantity="seeds_per_gram_cfr"
    )

    assert (soybean.text, soybean.number) == ("6-13", None)


def test_courgette_crookneck_and_acorn_squash_are_one_crossing_unit(reference):
    species = set(
        Crop.objects.filter(
            name__in=["courgette", "crookneck squash", "acorn squash"]
        ).values_list("species__botanical_name", flat=True)
    )

    assert species == {"Cucurbita pepo"}


def test_plants_are_male_or_female_where_the_file_says_so_and_nowhere_else(reference):
    with_sexes = Species.objects.filter(dioecious=True)

    assert [species.botanical_name for species in with_sexes] == ["Spinacia oleracea"]


def test_a_caution_hangs_on_the_species_that_the_file_names(reference):
    bitter = Caution.objects.get(topic="bitter-cucurbits")
    row = next(row for row in rows("cautions.csv") if row["topic"] == "bitter-cucurbits")

    named = sorted(bitter.species.values_list("botanical_name", flat=True))

    assert named == sorted(row["applies_to"].split(", "))


def test_loading_twice_leaves_everything_as_it_was(reference):
    before = list(SpeciesFigure.objects.values_list("pk", flat=True))

    load = load_reference()

    assert load.changed is False
    assert list(SpeciesFigure.objects.values_list("pk", flat=True)) == before


@pytest.mark.parametrize("force", [False, True])
def test_loading_costs_one_look_unless_a_file_changed(
    reference, django_assert_max_num_queries, force
):
    with django_assert_max_num_queries(40 if force else 3):
        load = load_reference(force=force)

    assert load.changed is force


def test_a_forced_load_repeats_nothing(reference):
    load_reference(force=True)

    counts = (Species.objects.count(), SpeciesFigure.objects.count(), Crop.objects.count())

    assert counts == (59, 598, len(rows("crops.csv")))


def test_a_changed_figure_is_updated_and_an_emptied_one_goes(reference, copied):
    rewrite(copied / "species.csv", ',self,"cleistogamous', ',insect,"cleistogamous')
    rewrite(copied / "species.csv", ',6,"Seed Saving Chart', ',7,"Seed Saving Chart')

    load_reference(directory=copied)

    bean = Species.objects.get(botanical_name="Phaseolus vulgaris")
    isolation = bean.figures.get(quantity="isolation_home_m")
    assert (bean.pollination, isolation.number) == ("insect", 7)


def test_a_crop_in_use_outlives_its_row(make_variety, copied):
    variety = make_variety(crop="tomato")
    rewrite(
        copied / "crops.csv",
        "tomato,Solanum lycopersicum,,annual",
        "tomate,Solanum lycopersicum,,annual",
    )

    load_reference(directory=copied)

    assert Variety.objects.get(pk=variety.pk).crop.name == "tomato"
    assert Crop.objects.filter(name="tomate").count() == 1


BROKEN = [
    (
        "species.csv",
        ",read,10,",
        ",hearsay,10,",
        "species.csv, row 2, column how_isolation_certified: “hearsay” is not one of: "
        "read, memory, computed, common practice.",
    ),
    (
        "crops.csv",
        "tomato,Solanum lycopersicum",
        "tomato,Solanum lycopersicon",
        "crops.csv, row 14, column botanical_name: “Solanum lycopersicon” has no row in "
        "species.csv.",
    ),
    (
        "crops.csv",
        "tomato,Solanum lycopersicum,,annual",
        "tomato,Solanum lycopersicum,,yearly",
        "crops.csv, row 14, column life_cycle: “yearly” is not one of: annual, biennial, "
        "perennial, clonal.",
    ),
    (
        "crops.csv",
        "cherry tomato,",
        "tomato,",
        "crops.csv has two rows for “tomato”.",
    ),
    (
        "cautions.csv",
        "sprouting,all,",
        "sprouting,all,extra,",
        "cautions.csv, row 5 has not as many cells as the first line.",
    ),
    (
        "cautions.csv",
        "green-potatoes,Solanum tuberosum",
        "green-potatoes,Solanum",
        "cautions.csv, row 9, column applies_to: “Solanum” has no row in species.csv.",
    ),
]


@pytest.mark.parametrize(("name", "old", "new", "sentence"), BROKEN)
def test_a_row_that_is_not_understood_is_refused_by_its_place(
    unread, copied, name, old, new, sentence
):
    rewrite(copied / name, old, new)

    with pytest.raises(Refused) as refusal:
        load_reference(directory=copied)

    assert str(refusal.value) == sentence


def test_a_refused_load_changes_nothing(unread, copied):
    rewrite(copied / "cautions.csv", "sprouting,all,", "sprouting,nobody,")

    with pytest.raises(CommandError):
        call_command("load_reference", directory=copied)

    assert (Species.objects.count(), ReferenceFile.objects.count()) == (0, 0)


def test_a_figure_without_a_source_is_refused(unread, copied):
    rewrite(
        copied / "species.csv", "hard seed: chip or soak (common practice)", "hard seed: soak"
    )

    with pytest.raises(Refused) as refusal:
        load_reference(directory=copied)

    assert refusal.value.field == "germ_test_source"


@pytest.mark.parametrize(
    "content", [b"", b"\xff\xfe\x00\x01", b"not,a,species,file\n1,2,3,4\n"]
)
def test_a_file_that_is_not_what_it_says_is_refused(unread, copied, content):
    (copied / "species.csv").write_bytes(content)

    with pytest.raises(Refused):
        load_reference(directory=copied)

    assert Species.objects.count() == 0


def test_the_command_says_what_it_read(unread, capsys):
    call_command("load_reference")
    call_command("load_reference")

    assert capsys.readouterr().out.splitlines() == [
        "Read 59 species with 598 figures, 101 crops, 23 cautions and the viability constants "
        "of 24 species.",
        "The reference data is as it was.",
    ]


def test_every_recommended_row_of_constants_is_there_and_no_doubtful_one(reference):
    known = {row["botanical_name"] for row in rows("species.csv")}
    wanted = {
        (row["botanical_name"], *(float(row[name]) for name in ("KE", "CW", "CH", "CQ")))
        for row in rows("viability_constants.csv")
        if row["recommended_default"] == "yes"
        and not row["note"].startswith("SUSPECT")
        and row["botanical_name"] in known
    }

    loaded = set(
        ViabilityConstants.objects.values_list(
            "species__botanical_name", "ke", "cw", "ch", "cq"
        )
    )

    assert len(wanted) == 24
    assert loaded == wanted
    assert ViabilityConstants.objects.filter(source="").count() == 0
    assert set(ViabilityConstants.objects.values_list("how", flat=True)) == {"read"}


def test_a_suspect_row_is_not_loaded_even_when_it_is_recommended(unread, copied):
    # The only rows of this species are outside the usual range of the constants.
    rewrite(copied / "viability_constants.csv", "0.002212,,", "0.002212,yes,")

    load_reference(directory=copied)

    species = ViabilityConstants.objects.values_list("species__botanical_name", flat=True)
    assert "Tagetes patula" in {row["botanical_name"] for row in rows("species.csv")}
    assert "Tagetes patula" not in set(species)


def test_two_recommended_sets_of_one_species_are_refused(unread, copied):
    lines = (copied / "viability_constants.csv").read_text(encoding="utf-8").splitlines()
    first = next(line for line in lines if ",yes," in line)
    (copied / "viability_constants.csv").write_text("\n".join([*lines, first]) + "\n")

    with pytest.raises(Refused) as refusal:
        load_reference(directory=copied)

    assert "has two recommended rows of constants; keep one." in str(refusal.value)
    assert Species.objects.count() == 0


def test_constants_that_left_the_file_are_known_no_longer(unread, copied):
    load_reference(directory=copied)
    rewrite(copied / "viability_constants.csv", ",yes,", ",,")

    load_reference(directory=copied)

    assert ViabilityConstants.objects.count() == 23
