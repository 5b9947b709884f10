"""Passport descriptors against the published format.

Source: Alercia, Diulgheroff & Mackay (2015), FAO/Bioversity Multi-Crop Passport Descriptors
V.2.1, Rome, as in `fixtures/reference/mcpd.md`, which says line by line what was read and what
is from memory; its check values stand below.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from library.exchange.mcpd.fields import COLLSRC, FIELDS, MLSSTAT, NAMES, SAMPSTAT, STORAGE
from library.exchange.mcpd.rules import problem_of, problems_of, problems_of_file
from library.exchange.mcpd.taxa import taxon_of

SHEET = (Path(__file__).parents[2] / "fixtures/reference/mcpd.md").read_text()
ROWS = re.findall(r"^\| [\d.]+ \| ([A-Z]+) \| .* \| (yes|no) \|$", SHEET, re.MULTILINE)


def section(heading: str) -> str:
    return SHEET.split(f"## {heading}")[1].split("\n## ")[0]


def test_the_41_fields_stand_in_their_order():
    assert len(ROWS) == 41
    assert [(field.name, "yes" if field.multi else "no") for field in FIELDS] == ROWS


@pytest.mark.parametrize(
    ("heading", "codes", "found"),
    [
        ("SAMPSTAT", SAMPSTAT, r"^\| (\d{3}) \|"),
        ("COLLSRC", COLLSRC, r"(?<![\d-])(\d\d) [a-z]"),
        ("STORAGE", STORAGE, r"(?<![\d-])(\d\d) (?:[a-z]|DNA)"),
        ("MLSSTAT", MLSSTAT, r"(\d+) ="),
    ],
)
def test_the_codes_are_those_of_the_lists(heading, codes, found):
    assert codes == set(re.findall(found, section(heading), re.MULTILINE))


@pytest.mark.parametrize(
    ("name", "value"),
    [
        # Check values of the reference file.
        ("SAMPSTAT", "300"),
        ("COLLSRC", "23"),
        ("STORAGE", "11;12"),
        ("ACQDATE", "202406--"),
        ("ORIGCTY", "USA"),
        ("OTHERNUMB", "USA003:PI 113869;:Old number"),
        # Its rules.
        ("ACQDATE", "197506--"),
        ("ACQDATE", "1975----"),
        ("ACQDATE", "20000229"),
        ("ACQDATE", "19750600"),
        ("ACCENAME", "Rheinische Vorgebirgstrauben;Emma;Avlon"),
        ("LATITUDE", "103020S"),
        ("LATITUDE", "10----S"),
        ("LATITUDE", "011530N"),
        ("LATITUDE", "45----S"),
        ("LONGITUDE", "0762510W"),
        ("LONGITUDE", "076----W"),
        ("DECLATITUDE", "-90"),
        ("DECLONGITUDE", "180.0"),
        ("ELEVATION", "-12"),
        ("INSTCODE", "COL001"),
        ("SPECIES", "sp."),
        ("SUBTAXA", "convar. botrytis"),
        ("MLSSTAT", "0"),
        ("REMARKS", "COLLSRC:riverside"),
        ("DONORNAME", ""),
    ],
)
def test_what_the_format_allows(name, value):
    assert problem_of(name, value) == ""


@pytest.mark.parametrize(
    ("name", "value"),
    [
        # Check values of the reference file.
        ("SAMPSTAT", "130;300"),
        ("COLLSRC", "29"),
        ("STORAGE", "11; 12"),
        ("ACQDATE", "2024-06"),
        ("ORIGCTY", "US"),
        ("DECLATITUDE", "91"),
        # Its rules.
        ("ACQDATE", "----06--"),
        ("ACQDATE", "2024--12"),
        ("ACQDATE", "20230229"),
        ("ACQDATE", "2024613"),
        ("ORIGCTY", "usa"),
        ("DECLONGITUDE", "-180.1"),
        ("LATITUDE", "913000N"),
        ("LATITUDE", "106020S"),
        ("LATITUDE", "10--20S"),
        ("LONGITUDE", "762510W"),
        ("ELEVATION", "12.5"),
        ("COORDUNCERT", "-1"),
        ("INSTCODE", "CO1"),
        ("GENUS", "phaseolus"),
        ("SPECIES", "Vulgaris"),
        ("SUBTAXA", "sativus"),
        ("ACCENAME", "emma"),
        ("ACCENAME", "Emma;"),
        ("ACCENUMB", "L1;L2"),
        ("ACCENUMB", "L1\nL2"),
        ("CROPNAME", "unknown"),
        ("ACQDATE", "0"),
        ("OTHERNUMB", "PI 113869"),
        ("STORAGE", "14"),
        ("MLSSTAT", "2"),
        ("REMARKS", "by the river"),
    ],
)
def test_what_the_format_does_not_allow(name, value):
    assert problem_of(name, value) != ""


def test_what_fields_ask_of_each_other():
    assert problems_of({"COLLSRC": "99"}) == ["COLLSRC: 99 is explained in REMARKS"]
    assert problems_of({"COLLSRC": "99", "REMARKS": "COLLSRC:riverside"}) == []
    assert problems_of({"DONORCODE": "COL001", "DONORNAME": "Tam"}) == [
        "DONORNAME: only where DONORCODE is empty"
    ]
    assert problems_of({"SPECIES": "vulgaris"}) == ["GENUS: a species has one"]
    assert problems_of({"GARDEN": "x"}) == ["GARDEN: no such field"]


def test_a_number_stands_once_in_a_file():
    row = dict.fromkeys(NAMES, "") | {"PUID": "urn:uuid:1", "ACCENUMB": "L1"}

    assert problems_of_file(NAMES, [row, row | {"ACCENUMB": "L2"}]) == [
        "row 2: PUID stands twice"
    ]
    assert problems_of_file(NAMES, [row, row | {"PUID": ""}]) == [
        "row 2: ACCENUMB stands twice"
    ]
    assert problems_of_file(NAMES[::-1], []) == ["the 41 field names, in their order"]


def test_every_name_of_the_reference_tables_has_its_fields(species):
    rows = [
        dict(zip(("GENUS", "SPECIES", "SUBTAXA"), taxon_of(name), strict=True))
        for name in species
    ]

    assert len(rows) == 59
    assert [problem for row in rows for problem in problems_of(row)] == []
    assert all(row["GENUS"] and row["SPECIES"] for row in rows)


@pytest.mark.parametrize(
    ("name", "fields"),
    [
        ("Zea mays", ("Zea", "mays", "")),
        ("Daucus carota subsp. sativus", ("Daucus", "carota", "subsp. sativus")),
        ("Brassica oleracea var. gemmifera", ("Brassica", "oleracea", "var. gemmifera")),
        ("Allium ampeloprasum (Leek Group)", ("Allium", "ampeloprasum", "Group Leek")),
        ("Fragaria × ananassa", ("Fragaria", "× ananassa", "")),
        ("Datura", ("Datura", "sp.", "")),
        ("=1+1", ("", "", "")),
        ("a bean of some kind", ("", "", "")),
    ],
)
def test_a_botanical_name_falls_into_its_fields(name, fields):
    assert taxon_of(name) == fields
