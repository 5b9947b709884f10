"""A chain's file is read, or refused with every line that is wrong."""

from __future__ import annotations

import datetime as dt
import json
from contextlib import suppress
from decimal import Decimal

import pytest

from library.errors import Refused
from library.exchange.prov import reading
from library.exchange.prov.reading import Unreadable, read_chain
from tests.exchange.files import File, a, identifier, typed

TODAY = dt.date(2026, 11, 20)


def problems_of(content) -> list[tuple[int, str]]:
    with pytest.raises(Unreadable) as refusal:
        read_chain(content, on=TODAY)
    return [(problem.line, problem.sentence) for problem in refusal.value.problems]


def test_every_fact_is_read(file):
    chain = read_chain(file.text(), on=TODAY)

    assert [lot.number for lot in chain.lots.values()] == ["F-1", "F-2", "F-3"]
    first, second, head = chain.lots.values()
    assert chain.head_lot is head
    assert (first.region, first.story) == ("the fens", "from a neighbour")
    assert (first.library, first.place) == ("Fen Edge Seed Library", "the fens")
    assert second.growing == {"plants_stood": 30, "plants_gave_seed": 24}
    assert second.grower_name == "marsh harrier"
    assert head.growing == {"isolation": "cage"}
    assert head.received_on == dt.date(2023, 10, 1)
    (link,) = head.parents
    assert (link.parent, link.share) == (second.identifier, Decimal(1))


def test_bytes_with_a_mark_at_the_beginning_are_read(file):
    assert read_chain(file.text().encode("utf-8-sig"), on=TODAY).head == identifier("F-3")


def test_other_prefixes_mean_the_same(file):
    text = file.text().replace("sowback:", "s:").replace('"sowback"', '"s"')

    assert read_chain(text, on=TODAY).head_lot.number == "F-3"


def test_what_is_not_ours_is_passed_over(file):
    file.data["entity"]["sowback:photograph"] = {"prov:label": "a picture"}
    file.data["wasInfluencedBy"] = {"_:x": {"prov:influencee": "sowback:photograph"}}
    file.data["wasDerivedFrom"]["_:p"] = {
        "prov:generatedEntity": "sowback:photograph",
        "prov:usedEntity": "sowback:nothing",
    }
    file.entity("F-3")["sowback:colour"] = "green"

    assert len(read_chain(file.text(), on=TODAY).lots) == 3


def test_a_part_of_a_lot_and_a_bulk_are_read(file):
    file.lot("G-1", year=2022)
    file.lot("G-2", {"F-3": "0.25", "G-1": "0.75"}, year=2023, origin="bulk")
    file.lot("G-3", {"G-2": "1"}, year=2023, origin="deposit")

    assert read_chain(file.text(), on=TODAY).head_lot.origin == "deposit"


def _drop(name, fact):
    return lambda file: file.entity(name).pop(f"sowback:{fact}")


def _put(name, fact, value):
    return lambda file: file.entity(name).update({f"sowback:{fact}": value})


# (what is spoiled, the text of the line that is named, what the sentence says)
SPOILED = {
    "no number": (_drop("F-2", "number"), str(identifier("F-2")), "“number” is missing"),
    "no variety": (_drop("F-2", "variety"), str(identifier("F-2")), "“variety” is missing"),
    "no day": (_drop("F-2", "receivedOn"), str(identifier("F-2")), "“receivedOn” is missing"),
    "future": (
        _put("F-3", "receivedOn", "2026-12-24"),
        '"sowback:receivedOn": "2026-12-24"',
        "still to come",
    ),
    "long ago": (_put("F-3", "receivedOn", "0003-01-01"), '"0003-01-01"', "before 1900"),
    "no day at all": (_put("F-3", "receivedOn", "soon"), '"soon"', "must be a day"),
    "future year": (_put("F-3", "harvestYear", 2150), "2150", "from 1900 to 2026"),
    "year after receipt": (
        _put("F-3", "harvestYear", 2024),
        '"sowback:harvestYear": 2024',
        "cannot have been received on 2023-10-01",
    ),
    "year as text": (_put("F-3", "harvestYear", "late"), '"late"', "must be a whole number"),
    "year as a truth": (_put("F-3", "harvestYear", True), ": true", "must be a whole number"),
    "a number as a number": (_put("F-3", "number", 7), '"sowback:number": 7', "must be text"),
    "two numbers": (_put("F-3", "number", ["a", "b"]), '"sowback:number": [', "several times"),
    "empty": (_put("F-3", "number", " "), '"sowback:number": " "', "is empty"),
    "long": (_put("F-3", "region", "x" * 121), '"sowback:region": "xxx', "121 characters"),
    "NUL": (_put("F-3", "region", "a\x00b"), "a\\u0000b", "cannot be kept"),
    "surrogate": (
        _put("F-3", "region", "REPLACED"),
        "REPLACED",
        "cannot be kept",
    ),
    "status": (_put("F-3", "breedingStatus", "wild"), '"wild"', "open-pollinated, f1"),
    "origin": (_put("F-3", "origin", "elsewhere"), '"elsewhere"', "deposit, return, bulk"),
    "head": (_put("F-3", "head", "perhaps"), '"perhaps"', "true or false"),
    "stood": (
        lambda file: file.data["activity"][f"lot:{identifier('F-2')}-made"].update(
            {"sowback:plantsGaveSeed": 31}
        ),
        '"sowback:plantsGaveSeed": 31',
        "31 plants gave seed, but only 30 stood",
    ),
    "minus": (
        lambda file: file.data["activity"][f"lot:{identifier('F-2')}-made"].update(
            {"sowback:plantsStood": -1}
        ),
        '"sowback:plantsStood": -1',
        "must be from 0",
    ),
    "isolation": (
        lambda file: file.data["activity"][f"lot:{identifier('F-2')}-made"].update(
            {"sowback:isolation": "a wall"}
        ),
        '"a wall"',
        "“a wall” is not a value",
    ),
    "no library": (
        lambda file: file.data["wasAttributedTo"].pop("_:wasAttributedTo1"),
        str(identifier("F-2")),
        "which one library kept it",
    ),
    "unknown agent": (
        lambda file: file.data["wasAttributedTo"]["_:wasAttributedTo1"].update(
            {"prov:agent": "sowback:nobody"}
        ),
        "sowback:nobody",
        "of which the file tells nothing",
    ),
    "unknown activity": (
        lambda file: file.data["activity"].pop(f"lot:{identifier('F-2')}-made"),
        "_:wasGeneratedBy0",
        "nothing of the activity",
    ),
    "missing parent": (
        lambda file: file.data["wasDerivedFrom"]["_:wasDerivedFrom0"].update(
            {"prov:usedEntity": "lot:none"}
        ),
        '"prov:usedEntity": "lot:none"',
        "it must be in the file",
    ),
    "share": (
        lambda file: file.data["wasDerivedFrom"]["_:wasDerivedFrom0"].update(
            {"sowback:share": 1.5}
        ),
        "1.5",
        "must be a part of 1",
    ),
    "shares": (
        lambda file: file.data["wasDerivedFrom"]["_:wasDerivedFrom0"].update(
            {"sowback:share": "0.9"}
        ),
        "_:wasDerivedFrom0",
        "sum to 0.9; they must sum to 1",
    ),
    "endless share": (
        lambda file: file.data["wasDerivedFrom"]["_:wasDerivedFrom0"].update(
            {"sowback:share": "Infinity"}
        ),
        "Infinity",
        "must be a part of 1",
    ),
    "no link": (
        lambda file: file.data["wasDerivedFrom"].pop("_:wasDerivedFrom1"),
        str(identifier("F-3")),
        "which lot it came from",
    ),
    "two links": (
        lambda file: file.derive(f"lot:{identifier('F-3')}", f"lot:{identifier('F-2')}", "1"),
        "_:wasDerivedFrom2",
        "named twice",
    ),
    "time": (
        _put("F-2", "harvestYear", 2018),
        '"sowback:harvestYear": 2018',
        "lot F-2 was harvested in 2018, before lot F-1 of 2019",
    ),
    "two heads": (
        lambda file: file.head("F-2", "F-3"),
        '"sowback:head": true',
        "a second lot is marked",
    ),
    "no head": (lambda file: file.head(), str(identifier("F-1")), "no lot is marked"),
    "stray": (
        lambda file: (file.lot("G-1", year=2020), file.head("F-3")),
        str(identifier("G-1")),
        "no ancestor of the lot",
    ),
}


@pytest.mark.parametrize("spoiled", SPOILED)
def test_what_cannot_be_is_named_with_its_line(file, spoiled):
    spoil, where, says = SPOILED[spoiled]
    spoil(file)
    text = file.text()
    if spoiled == "surrogate":
        text = text.replace("REPLACED", "\\ud800")
    # The second head is the one that is too much.
    line = file.line_with(where, nth=2 if spoiled == "two heads" else 1)

    found = problems_of(text)

    assert any(at == line and says in sentence for at, sentence in found), (line, found)


def test_a_harvest_before_a_grandparents_is_found_over_a_year_that_is_not_known(file):
    file.entity("F-2").pop("sowback:harvestYear")
    file.entity("F-3")["sowback:harvestYear"] = 2018

    ((line, sentence),) = problems_of(file.text())

    assert line == file.line_with('"sowback:harvestYear": 2018')
    assert "F-3 was harvested in 2018, before lot F-1 of 2019" in sentence


def test_a_ring_is_refused_with_its_links_named(file):
    first, head = f"lot:{identifier('F-1')}", f"lot:{identifier('F-3')}"
    file.entity("F-1")["sowback:origin"] = "return"
    file.derive(first, head, "1")

    ((line, sentence),) = problems_of(file.text())

    lines = [file.line_with(f"_:wasDerivedFrom{n}") for n in range(3)]
    assert line == min(lines)
    for child, parent, at in zip(
        ["F-2", "F-3", "F-1"], ["F-1", "F-2", "F-3"], lines, strict=True
    ):
        assert f"{child} comes from {parent} (line {at})" in sentence


def test_a_lot_that_came_from_itself_is_a_ring(file):
    first = f"lot:{identifier('F-1')}"
    file.entity("F-1")["sowback:origin"] = "return"
    file.derive(first, first, "1")

    ((_line, sentence),) = problems_of(file.text())

    assert "F-1 comes from F-1" in sentence


def test_all_problems_are_told_at_once(file):
    file.entity("F-1")["sowback:harvestYear"] = "x"
    file.entity("F-2").pop("sowback:number")
    file.entity("F-3")["sowback:origin"] = "x"

    found = problems_of(file.text())

    assert len(found) == 3
    assert found == sorted(found)


def test_a_thousand_problems_are_fifty(variety):
    file = File(variety.name, variety.crop.name, "x")
    for n in range(1000):
        file.lot(f"L{n}", year=2019, origin="x")

    assert len(problems_of(file.text())) == 50


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("", 1, "stops being JSON"),
        ('{\n"a": 1,\n}', 3, "stops being JSON"),
        ("[]", 1, "must be an object"),
        ("{}", 1, "tells of no lot"),
        ('{"entity": []}', 1, "“entity” must be an object"),
        ('{"entity":\n{"a":\n7}}', 2, "“a” must be an object"),
        ('{"prefix": 1}', 1, "“prefix” must be an object"),
        ('{"a": [1,\nNaN]}', 2, "“NaN” is not a number"),
        ('{"NaN": "NaN",\n"a": -Infinity}', 2, "“-Infinity” is not a number"),
        ('{"a":\n' + "[" * 100_000, 2, "nested more than 20"),
        ("9" * 5000, 1, "more digits"),
        ('{"entity": {},\n"entity": {}}', 2, "“entity” stands here a second time"),
        ('{"a": "\\\n"}', 1, "stops being JSON"),
    ],
)
def test_what_is_no_document_is_refused_with_its_line(text, line, says):
    found = problems_of(text)

    assert any(at == line and says in sentence for at, sentence in found), found


def test_a_key_that_stands_twice_is_named(file):
    text = file.text().replace(
        '"sowback:number": "F-2",', '"sowback:number": "F-2",\n"sowback:number": "F-9",'
    )

    ((line, sentence),) = problems_of(text)

    assert line == file.line_with('"sowback:number": "F-2"') + 1
    assert "“sowback:number” stands here a second time" in sentence


@pytest.mark.parametrize("key", ["lot:17", "sowback:F-2", "lot:{" + "0" * 32 + "}"])
def test_an_identifier_is_a_uuid(file, key):
    record = file.entity("F-2")
    file.data["entity"][key] = record | {"sowback:number": "F-9"}

    found = problems_of(file.text())

    assert (file.line_with(f'"{key}"')) in [line for line, _sentence in found]
    assert any("no lot's identifier" in sentence for _line, sentence in found)


def test_one_lot_under_two_names_is_refused(file):
    key = f"lot:{identifier('F-2')}".upper().replace("LOT", "lot")
    file.data["entity"][key] = dict(file.entity("F-2"))

    assert any("a second time" in sentence for _line, sentence in problems_of(file.text()))


def test_bytes_that_are_no_text_are_refused_with_the_line():
    ((line, sentence),) = problems_of(b'{\n"a": "\xff"}')

    assert (line, "UTF-8" in sentence) == (2, True)


def test_text_with_half_a_character_is_refused():
    ((line, sentence),) = problems_of('{\n"a": "\ud800"}')

    assert (line, "cannot be kept" in sentence) == (2, True)


def test_a_file_that_is_too_large_is_refused(monkeypatch, file):
    monkeypatch.setattr(reading, "MOST_BYTES", 1_000_000)

    with pytest.raises(Refused, match=r"has 1\.0 MB; at most 1 MB"):
        read_chain(" " * 1_000_001, on=TODAY)


def test_a_file_of_too_many_lots_is_refused(monkeypatch, file):
    monkeypatch.setattr(reading, "MOST_LOTS", 2)

    ((_line, sentence),) = problems_of(file.text())

    assert "3 lots; at most 2" in sentence


def test_a_chain_of_three_thousand_generations_is_read(variety):
    file = File(variety.name, variety.crop.name, "x")
    file.lot("0", year=2000)
    for n in range(1, 3000):
        file.lot(str(n), {str(n - 1): "1"}, year=2000)
        file.entity(str(n)).pop("sowback:head")
    file.head("2999")

    chain = read_chain(file.text(), on=TODAY)

    assert [lot.number for lot in chain.lots.values()] == [str(n) for n in range(3000)]


def test_one_line_is_as_good_as_many(file):
    file.entity("F-3")["sowback:origin"] = "x"

    ((line, _sentence),) = problems_of(json.dumps(file.data))

    assert line == 1


@pytest.mark.parametrize("value", [None, 7, [], {}, {"$": []}, [[]], {"type": 3}, "\x7f", True])
@pytest.mark.parametrize("section", ["entity", "wasDerivedFrom", "agent", "wasGeneratedBy"])
def test_nothing_that_stands_in_a_record_breaks_the_reading(file, section, value):
    """Every fact of a record in turn is replaced by rubbish: read, or refused with a line."""
    for key, record in list(file.data[section].items()):
        for fact in list(record):
            file.data[section][key] = record | {fact: value}
            with suppress(Unreadable):
                read_chain(file.text(), on=TODAY)
        file.data[section][key] = record


def test_typed_and_plain_values_mean_the_same(file):
    file.entity("F-3")["sowback:harvestYear"] = typed("2023", "xsd:gYear")
    file.entity("F-3")["prov:type"] = [a("sowback:Lot"), a("prov:Collection")]

    assert read_chain(file.text(), on=TODAY).head_lot.harvest_year == 2023
