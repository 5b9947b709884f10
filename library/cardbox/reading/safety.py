"""What a file is, by its bytes, before any of it is unpacked.

A name says nothing but what the sender believes; where name and bytes disagree, the file is
refused, since one of them is a mistake or a trick. Of an archive (both kinds of workbook are
one) only the directory at its end is read: how many parts, how large, and how they are called.
"""

from __future__ import annotations

import enum
import io
import zipfile
from pathlib import PurePosixPath
from typing import Any

from django.utils.translation import gettext as _

from library.errors import Refused

MOST_BYTES = 20 * 1024 * 1024
MOST_PARTS = 1000
MOST_UNPACKED = 150 * 1024 * 1024
# Sheets of real tables pack to a tenth or a twentieth; a bomb to a thousandth.
MOST_RATIO = 200
SMALL_PART = 1024 * 1024  # what packs well and stays small is no danger
LONGEST_NAME = 200
ARCHIVES = (".zip", ".xlsx", ".xlsm", ".ods", ".docx", ".jar", ".gz", ".7z", ".rar")

OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
ZIP = b"PK\x03\x04"
EMPTY_ZIP = b"PK\x05\x06"
OTHERS = {
    b"%PDF": "PDF",
    b"\x89PNG": "PNG",
    b"\xff\xd8\xff": "JPEG",
    b"GIF8": "GIF",
    b"\x1f\x8b": "gzip",
    b"Rar!": "RAR",
    b"7z\xbc\xaf": "7z",
    b"MZ": "EXE",
    b"\x7fELF": "ELF",
    b"{\\rtf": "RTF",
}


class Form(enum.StrEnum):
    CSV = "csv"
    XLSX = "xlsx"
    ODS = "ods"


TEXT_SUFFIXES = ("", ".csv", ".tsv", ".txt", ".tab")


class NotATable(Refused):
    """A file that is not taken; the sentence says what would be."""

    def __init__(self, message: str) -> None:
        super().__init__(message, field="file")


def checked_name(name: Any) -> str:
    """The file's name without folders, for showing. Raises NotATable for what is no name."""
    name = str(name or "").replace("\\", "/").rpartition("/")[2].strip()
    if len(name) > LONGEST_NAME:
        raise NotATable(
            _("The file's name has %(n)s characters; give it one of at most %(most)s.")
            % {"n": len(name), "most": LONGEST_NAME}
        )
    if any(not char.isprintable() for char in name):
        raise NotATable(_("The file's name has characters that cannot be seen; rename it."))
    return name or _("a file without a name")


def checked_size(size: int) -> None:
    if size == 0:
        raise NotATable(_("The file is empty. Send one with a row of headings and rows below."))
    if size > MOST_BYTES:
        raise NotATable(
            _("The file has %(mb).1f MB; at most %(most)s MB are taken. Split it in parts.")
            % {"mb": size / 1024 / 1024, "most": MOST_BYTES // 1024 // 1024}
        )


def form_of(name: str, content: bytes) -> Form:
    """What the file is. Raises NotATable for what is none of the three, or not safe to open."""
    checked_size(len(content))
    form = _by_bytes(content)
    suffix = PurePosixPath(name.lower()).suffix
    expected = {Form.CSV: TEXT_SUFFIXES, Form.XLSX: (".xlsx",), Form.ODS: (".ods",)}[form]
    if suffix not in expected:
        # A name such as "seeds.2019" ends in no suffix that means anything else.
        known = {".csv", ".tsv", ".txt", ".tab", ".xlsx", ".ods", *ARCHIVES, ".xls", ".pdf"}
        if suffix in known or form != Form.CSV:
            raise NotATable(
                _("The file is called “%(name)s”, but inside it is %(form)s. Give it the right "
                  "ending, or save it anew as CSV, XLSX or ODS.")
                % {"name": name[:80], "form": form.value.upper()}
            )  # fmt: skip
    return form


def _by_bytes(content: bytes) -> Form:
    if content.startswith(OLE):
        raise NotATable(
            _("This is a workbook with a password, or one of the old .xls kind. Save it as "
              "XLSX, ODS or CSV without a password.")
        )  # fmt: skip
    if content.startswith((ZIP, EMPTY_ZIP)):
        return _workbook(content)
    for first, kind in OTHERS.items():
        if content.startswith(first):
            raise NotATable(
                _("This is a %(kind)s file, not a table; send CSV, XLSX or ODS.")
                % {"kind": kind}
            )
    if zipfile.is_zipfile(io.BytesIO(content)):
        raise NotATable(
            _("Behind the text of this file an archive is hidden; save the table anew.")
        )
    return Form.CSV


def _workbook(content: bytes) -> Form:
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError, UnicodeError):
        raise NotATable(
            _("The workbook is damaged or cut off; save it anew and send it again.")
        ) from None
    with archive:
        parts = archive.infolist()
        _check_parts(parts, len(content))
        return _kind_of_workbook(archive, {part.filename for part in parts})


def _check_parts(parts: list[zipfile.ZipInfo], packed: int) -> None:
    if len(parts) > MOST_PARTS:
        raise NotATable(
            _("The workbook is made of %(n)s parts; at most %(most)s are taken. Save the "
              "table alone, as CSV.") % {"n": len(parts), "most": MOST_PARTS}
        )  # fmt: skip
    for part in parts:
        _check_part(part)
    unpacked = sum(part.file_size for part in parts)
    if unpacked > MOST_UNPACKED:
        raise _too_much(unpacked)


def _check_part(part: zipfile.ZipInfo) -> None:
    # As it stands in the file: zipfile itself cuts a name at its first NUL.
    name = part.orig_filename
    if part.flag_bits & 0x1:
        raise NotATable(_("The workbook has a password; save it without one."))
    path = PurePosixPath(name)
    bad = name.startswith(("/", "~")) or ".." in path.parts or ":" in name or "\0" in name
    if bad or "\\" in name or len(name) > 500:
        raise NotATable(
            _("The workbook has a part called “%(name)s”, which no spreadsheet writes; save "
              "the table anew.") % {"name": name.replace("\0", "?")[:60]}
        )  # fmt: skip
    if path.suffix.lower() in ARCHIVES:
        raise NotATable(
            _("The workbook has another archive inside (“%(name)s”); save the table alone.")
            % {"name": name[:60]}
        )
    large = part.file_size > SMALL_PART
    if large and part.file_size > MOST_RATIO * max(1, part.compress_size):
        raise _too_much(part.file_size)


def _too_much(size: int) -> NotATable:
    return NotATable(
        _("Unpacked, the workbook would be %(mb)s MB, far more than such a table needs; it is "
          "not opened. Save the table alone, as CSV.") % {"mb": size // 1024 // 1024}
    )  # fmt: skip


def _kind_of_workbook(archive: zipfile.ZipFile, names: set[str]) -> Form:
    if "[Content_Types].xml" in names and "xl/workbook.xml" in names:
        return Form.XLSX
    if "mimetype" in names and "content.xml" in names:
        if "META-INF/manifest.xml" in names and b"encryption-data" in _start_of(
            archive, "META-INF/manifest.xml"
        ):
            raise NotATable(_("The workbook has a password; save it without one."))
        kind = _start_of(archive, "mimetype")
        if kind.startswith(b"application/vnd.oasis.opendocument.spreadsheet"):
            return Form.ODS
    raise NotATable(
        _("This is an archive, but no XLSX or ODS workbook; send the table by itself.")
    )


def _start_of(archive: zipfile.ZipFile, name: str) -> bytes:
    """The first of a small part, and no more than that whatever its directory says."""
    try:
        with archive.open(name) as part:
            return part.read(1_000_000)
    except Exception:  # a broken part raises many kinds; the workbook is refused anyway
        return b""
