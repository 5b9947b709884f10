"""What files are taken, and what hostile ones are told."""

from __future__ import annotations

import io
import struct
import zipfile

import pytest

from library.cardbox.reading import NotATable, form_of, look_over, open_table
from library.cardbox.reading.safety import MOST_BYTES, checked_name, checked_size
from library.cardbox.reading.text import delimiter_of, encoding_of
from tests.cardbox.conftest import csv_of, ods_of, xlsx_of

ROWS = [["Crop", "Name", "Seeds"], ["pea", "Dünen Früh", "12"], ["leek", "Blå, lang", "40"]]


def read(content: bytes, name: str = "cards.csv"):
    table = open_table(content, form_of(name, content))
    headings, rows, count = look_over(table, sample=10)
    return headings, [cells for _n, cells in rows], count


# What is taken ----------------------------------------------------------------------------
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_text_is_read_however_it_was_written(encoding, delimiter):
    headings, rows, count = read(csv_of(ROWS, delimiter=delimiter, encoding=encoding))

    assert [headings, *rows] == ROWS
    assert count == 2


def test_cyrillic_of_an_old_program_is_read():
    rows = [["Культура", "Сорт"], *[["томат", f"Красный фонарь {n}"] for n in range(9)]]

    assert read(csv_of(rows, encoding="cp1251"))[1] == rows[1:]


def test_commas_in_quoted_text_and_letters_do_not_pass_for_the_delimiter():
    text = 'Name;Notes\n"A";"red, round, early"\n"B";"blue, long, late, tall"\n'

    assert delimiter_of(text) == ";"
    assert delimiter_of("Name\nWeir Lantern\nTarn Kettle\n") == ","


@pytest.mark.parametrize("make", [xlsx_of, ods_of])
def test_a_workbook_is_read(make):
    name = {xlsx_of: "cards.xlsx", ods_of: "cards.ods"}[make]

    assert read(make(ROWS), name) == (ROWS[0], ROWS[1:], 2)


def test_of_a_workbook_values_are_read_and_never_formulas():
    import datetime as dt

    content = xlsx_of(
        [["Name", "Seeds", "Day", "Sum"], ["A", 12.0, dt.date(2019, 4, 3), "=1+2"],
         ["B", 1.5, dt.datetime(2019, 4, 3, 10, 30), "=HYPERLINK(\"http://example.org\")"]]  # noqa: DTZ001
    )  # fmt: skip

    _headings, rows, _count = read(content, "cards.xlsx")

    assert rows == [["A", "12", "2019-04-03"], ["B", "1.5", "2019-04-03 10:30:00"]]


def test_rows_are_counted_as_a_spreadsheet_counts_them():
    content = xlsx_of([[], ["Name", "Seeds"], [], ["A", "1"]])
    table = open_table(content, form_of("a.xlsx", content))

    assert [number for number, _cells in table.rows()] == [2, 4]


def test_a_formula_in_text_is_text():
    rows = [["Name"], ["=cmd|' /C calc'!A0"], ["@SUM(A1)"]]

    assert read(csv_of(rows))[1] == rows[1:]


# What is refused --------------------------------------------------------------------------
def zipped(parts: dict[str, bytes], **how) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, **how) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return out.getvalue()


def repacked(content: bytes, change: dict[str, bytes]) -> bytes:
    """A true workbook with some parts other than they were, or more of them."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    return zipped(parts | change)


WORKBOOK = xlsx_of(ROWS)
FAR = (
    b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    b'<row r="1"><c r="A1"><v>1</v></c></row>'
    b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData></worksheet>'
)
ENCRYPTED_ODS = zipped(
    {
        "mimetype": b"application/vnd.oasis.opendocument.spreadsheet",
        "content.xml": b"x" * 50,
        "META-INF/manifest.xml": b"<manifest:encryption-data/>",
    }
)
LOCKED = bytearray(zipped({"[Content_Types].xml": b"x", "xl/workbook.xml": b"x"}))
for _signature, _at in ((b"PK\x01\x02", 8), (b"PK\x03\x04", 6)):
    _found = LOCKED.find(_signature)
    LOCKED[_found + _at] |= 1

HOSTILE = {
    "empty": ("a.csv", b"", "is empty"),
    "only blank lines": ("a.csv", b"\n\n  \n", "is empty"),
    "only headings": ("a.csv", b"Crop,Name\n", "no rows below"),
    "only headings in a workbook": ("a.xlsx", xlsx_of([["Crop"]]), "no rows below"),
    "an empty workbook": ("a.xlsx", xlsx_of([]), "No sheet"),
    "NUL": ("a.csv", b"Crop,Name\npea,A\0B\n", "zero bytes"),
    "NUL in UTF-16": ("a.csv", "Name\nA\0B\n".encode("utf-16"), "can be read as a table"),
    "bytes that are no text": ("a.csv", bytes(range(1, 32)) * 300, "not text"),
    "PDF": ("a.csv", b"%PDF-1.7\n", "PDF"),
    "PNG": ("a.csv", b"\x89PNG\r\n\x1a\n", "PNG"),
    "HTML": ("a.csv", b"<html><table><tr><td>a,b</td></tr></table></html>", "a page"),
    "SVG": ("a.csv", b"<svg onload='alert(1)'/>", "a page"),
    "JSON": ("a.csv", b'{"a": 1}\n', "program's data"),
    "old workbook, or one with a password": (
        "a.xlsx", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "password"),
    "encrypted parts": ("a.xlsx", bytes(LOCKED), "password"),
    "encrypted ODS": ("a.ods", ENCRYPTED_ODS, "password"),
    "workbook called CSV": ("a.csv", WORKBOOK, "inside it is XLSX"),
    "workbook called ODS": ("a.ods", WORKBOOK, "inside it is XLSX"),
    "text called XLSX": ("a.xlsx", csv_of(ROWS), "inside it is CSV"),
    "text called a PDF": ("a.pdf", csv_of(ROWS), "inside it is CSV"),
    "an archive behind text": ("a.csv", csv_of(ROWS) + WORKBOOK, "hidden"),
    "any archive": ("a.xlsx", zipped({"a.txt": b"x"}), "no XLSX or ODS"),
    "damaged": ("a.xlsx", WORKBOOK[: len(WORKBOOK) // 2], "damaged"),
    "damaged inside": (
        "a.xlsx", repacked(WORKBOOK, {"xl/worksheets/sheet1.xml": b"<broken"}),
        "damaged|No sheet"),
    "bomb": (
        "a.xlsx", repacked(WORKBOOK, {"xl/worksheets/sheet1.xml": b" " * 120_000_000}),
        "Unpacked"),
    "many smaller bombs": (
        "a.xlsx",
        repacked(WORKBOOK, {f"xl/{n}.xml": b" " * 1_000_000 for n in range(160)}), "Unpacked"),
    "archive in the archive": (
        "a.xlsx", repacked(WORKBOOK, {"xl/embeddings/b.xlsx": WORKBOOK}), "another archive"),
    "too many parts": (
        "a.xlsx", repacked(WORKBOOK, {f"xl/{n}.xml": b"" for n in range(2000)}), "parts"),
    "path upwards": ("a.xlsx", repacked(WORKBOOK, {"../../etc/cron.d/x": b"x"}), "called"),
    "path from the root": ("a.xlsx", repacked(WORKBOOK, {"/etc/passwd": b"x"}), "called"),
    "path of Windows": ("a.xlsx", repacked(WORKBOOK, {"C:evil.xml": b"x"}), "called"),
    "a sheet that claims to be endless": (
        "a.xlsx", repacked(WORKBOOK, {"xl/worksheets/sheet1.xml": FAR}), "more memory"),
    "300 columns": ("a.csv", csv_of([["h"] * 300, ["1"] * 300]), "300 columns"),
    "300 columns in a workbook": (
        "a.xlsx", xlsx_of([["h"] * 300, ["1"] * 300]), "300 columns"),
    "a cell of 10 MB": (
        "a.csv", csv_of([["Name"], ["x" * 10_000_000]]), "Row 2, column 1.*10000000 "),
    "a long cell in a workbook": (
        "a.xlsx", xlsx_of([["Name"], ["x" * 30_000]]), "Row 2, column 1.*30000 characters"),
    "too many rows": ("a.csv", b"Name\n" + b"x\n" * 60_001, "more than 60000 rows"),
    "a quote that never ends": ("a.csv", b'Name\n"' + b"x\n" * 20_000, "characters"),
}  # fmt: skip


@pytest.mark.parametrize("case", HOSTILE)
def test_what_is_no_table_is_refused_with_a_sentence(case):
    name, content, sentence = HOSTILE[case]

    with pytest.raises(NotATable, match=sentence) as refusal:
        read(content, name)

    assert refusal.value.field == "file"
    assert len(str(refusal.value)) < 300


def test_a_bomb_that_lies_about_its_size_harms_nobody():
    bomb = bytearray(
        repacked(WORKBOOK, {"xl/worksheets/sheet1.xml": FAR[:-40] + b" " * 100_000_000})
    )
    for signature, place in ((b"PK\x01\x02", 24), (b"PK\x03\x04", 22)):
        at = 0
        while (at := bomb.find(signature, at)) >= 0:
            if struct.unpack_from("<I", bomb, at + place)[0] > 1_000_000:
                struct.pack_into("<I", bomb, at + place, 1000)
            at += 4

    with pytest.raises(NotATable, match=r"damaged|more memory"):
        read(bytes(bomb), "a.xlsx")


def test_an_entity_that_grows_without_end_does_not():
    laughs = b"<!DOCTYPE z [<!ENTITY a '" + b"ha" * 50 + b"'>" + b"".join(
        b"<!ENTITY %c '%s'>" % (98 + n, b"&%c;" % (97 + n) * 10) for n in range(12)
    ) + b"]>"  # fmt: skip
    sheet = (
        laughs
        + b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
        b'<sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>&m;</t></is></c></row>'
        b'<row r="2"><c r="A2"><v>1</v></c></row></sheetData></worksheet>'
    )
    content = repacked(WORKBOOK, {"xl/worksheets/sheet1.xml": sheet})
    try:
        headings, rows, _count = read(content, "a.xlsx")
    except NotATable:
        return
    assert sum(map(len, headings)) + sum(len(c) for row in rows for c in row) < 1000


def test_a_file_that_is_too_large_is_refused_unread():
    with pytest.raises(NotATable, match="at most 20 MB"):
        checked_size(MOST_BYTES + 1)


def test_a_name_of_ten_megabytes_and_one_with_folders():
    with pytest.raises(NotATable, match="10000000 characters"):
        checked_name("x" * 10_000_000)
    with pytest.raises(NotATable, match="cannot be seen"):
        checked_name("a\u202ecsv.exe")
    assert checked_name("..\\..\\etc/passwd.csv") == "passwd.csv"


def test_utf8_is_told_from_what_nearly_is():
    assert encoding_of("größe".encode()) == "utf-8"
    text = "Größe;Name\nPflücksalat;Früher Gelber\nMöhre;Lange Rote\nErbse;Frühe\n"
    assert encoding_of(text.encode("cp1252")) == "cp1252"
