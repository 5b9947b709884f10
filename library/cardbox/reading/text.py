"""A table in plain text: its encoding and its delimiter are found, then it is read by rows."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Iterator

from django.utils.translation import gettext as _

from library.cardbox.reading.limits import LONGEST_CELL, MOST_COLUMNS, MOST_ROWS
from library.cardbox.reading.safety import NotATable

SAMPLE = 200_000  # bytes or characters that are looked at
DELIMITERS = ",;\t|"
BOMS = {
    codecs.BOM_UTF8: "utf-8-sig",
    codecs.BOM_UTF32_LE: "utf-32",
    codecs.BOM_UTF32_BE: "utf-32",
    codecs.BOM_UTF16_LE: "utf-16",
    codecs.BOM_UTF16_BE: "utf-16",
}
LOOKED_AT = 30  # rows


def encoding_of(content: bytes) -> str:
    """The encoding: what the file says itself, UTF-8 where it is that, else a guess."""
    for bom, encoding in sorted(BOMS.items(), key=lambda pair: -len(pair[0])):
        if content.startswith(bom):
            return encoding
    if b"\0" in content:
        raise NotATable(
            _("The file holds zero bytes, which no text does; save it anew as CSV.")
        )
    if _is_utf8(content):
        return "utf-8"
    guess = _guessed(content)
    # Where two encodings read the same text, the commoner one is named.
    same = content.decode("cp1252", "replace") == content.decode(guess, "replace")
    return "cp1252" if same else guess


# One byte for a letter, Latin with accents: seen in lists from offices and phones.
LATIN = ["cp1252", "cp1250", "cp1254", "cp1257"]
OTHERS = ["cp1251", "koi8_r", "cp866", "cp1253", "cp1255", "cp1256", "cp932", "gb18030",
          "big5", "euc_kr", "euc_jp"]  # fmt: skip
MOSTLY_FOREIGN = 0.35  # of a line's letters; accents alone are fewer
LIKELY = 0.3  # below this coherence any of them may fit


def _guessed(content: bytes) -> str:
    """An old one-byte encoding, by the lines that are not plain ASCII: they alone tell."""
    from charset_normalizer import from_bytes

    telling = b"\n".join(line for line in content.splitlines() if not line.isascii())[:SAMPLE]
    foreign = sum(byte > 127 for byte in telling)
    letters = foreign + sum(chr(byte).isalpha() for byte in telling if byte < 128)
    if foreign > MOSTLY_FOREIGN * letters:
        best = from_bytes(telling, cp_isolation=OTHERS).best()
        return best.encoding if best is not None else "cp1252"
    best = from_bytes(telling, cp_isolation=LATIN).best()
    return best.encoding if best is not None and best.coherence > LIKELY else "cp1252"


def _is_utf8(content: bytes) -> bool:
    decoder = codecs.getincrementaldecoder("utf-8")()
    view = memoryview(content)
    try:
        for start in range(0, len(content), 1 << 20):
            decoder.decode(view[start : start + (1 << 20)])
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True


def delimiter_of(sample: str) -> str:
    """The sign between the cells: the one that gives most rows the same number of cells.

    ``csv.Sniffer`` is asked only where that leaves a tie: alone it takes letters for
    delimiters, and commas inside quoted text.
    """
    scores = {each: _evenness(sample, each) for each in DELIMITERS}
    best = max(scores.values())
    if best == (0, 0):
        return ","
    likeliest = [each for each, score in scores.items() if score == best]
    if len(likeliest) > 1:
        try:
            sniffed = csv.Sniffer().sniff(sample[:20_000], delimiters="".join(likeliest))
        except csv.Error:
            return likeliest[0]
        if sniffed.delimiter in likeliest:
            return sniffed.delimiter
    return likeliest[0]


def _evenness(sample: str, delimiter: str) -> tuple[float, int]:
    """The share of the first rows that are as wide as the first, and that width."""
    widths = []
    try:
        for row in csv.reader(io.StringIO(sample, newline=""), delimiter=delimiter):
            if any(cell.strip() for cell in row):
                widths.append(len(row))
            if len(widths) > LOOKED_AT:
                break
    except csv.Error:
        return 0, 0
    if not widths or widths[0] < 2:
        return 0, 0
    return round(sum(w == widths[0] for w in widths) / len(widths), 2), widths[0]


def sample_of(content: bytes, encoding: str) -> str:
    """The first of the text, at a whole line. Raises NotATable for what is no text."""
    text = content[:SAMPLE].decode(encoding, errors="replace")
    if len(content) > SAMPLE:
        text = text.rpartition("\n")[0] or text
    odd = sum(not (char.isprintable() or char in "\t\r\n\x0b\x0c\u2028") for char in text)
    if "\0" in text or odd > 5 + len(text) // 100:
        raise NotATable(
            _("The file is not text that can be read as a table; save it anew as CSV.")
        )
    if text.lstrip("\ufeff \r\n\t")[:1] in ("<", "{") and _looks_like_markup(text):
        raise NotATable(
            _("The file is a page or a program's data, not a table; save the table as CSV.")
        )
    return text


def _looks_like_markup(text: str) -> bool:
    start = text.lstrip("\ufeff \r\n\t")[:300].lower()
    return start.startswith(("<!doctype", "<html", "<?xml", "<svg", "<script", "{"))


def rows_of(
    content: bytes, *, encoding: str, delimiter: str
) -> Iterator[tuple[int, list[str]]]:
    """Each row that holds anything, with its number as a spreadsheet would count it."""
    stream = io.TextIOWrapper(io.BytesIO(content), encoding, errors="replace", newline="")
    # csv has one limit, and it is of the whole process: ours is looked at below.
    csv.field_size_limit(max(csv.field_size_limit(), 32 * 1024 * 1024))
    taken = 0
    reader = enumerate(csv.reader(stream, delimiter=delimiter), start=1)
    while True:
        try:
            number, row = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise NotATable(
                _("Near row %(n)s the file cannot be read as CSV (%(why)s); save it anew.")
                % {"n": taken + 1, "why": error}
            ) from None
        while row and not row[-1].strip():
            row.pop()
        if not row:
            continue
        check_row(number, row, taken)
        taken += 1
        yield number, row


def check_row(number: int, row: list[str], taken: int) -> None:
    """Refuse a row that is too much, naming it."""
    if taken > MOST_ROWS:
        raise too_many_rows()
    if len(row) > MOST_COLUMNS:
        raise too_many_columns(number, len(row))
    for place, cell in enumerate(row, start=1):
        if len(cell) > LONGEST_CELL:
            raise too_long_cell(number, place, len(cell))
        if "\0" in cell:
            raise NotATable(
                _("Row %(row)s, column %(column)s holds a zero character; save the file anew.")
                % {"row": number, "column": place}
            )


def too_many_rows() -> NotATable:
    return NotATable(
        _("The table has more than %(most)s rows; split it in parts.") % {"most": MOST_ROWS}
    )


def too_many_columns(number: int, n: int) -> NotATable:
    return NotATable(
        _("Row %(row)s has %(n)s columns; at most %(most)s are taken. Leave out those that are "
          "not about the seed.") % {"row": number, "n": n, "most": MOST_COLUMNS}
    )  # fmt: skip


def too_long_cell(number: int, column: int, n: int) -> NotATable:
    return NotATable(
        _(
            "Row %(row)s, column %(column)s: the cell has %(n)s characters; at most %(most)s "
            "fit."
        )
        % {"row": number, "column": column, "n": n, "most": LONGEST_CELL}
    )
