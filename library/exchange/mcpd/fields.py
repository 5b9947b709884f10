"""The 41 fields of the multi-crop passport descriptors, in their order, and their codes.

Alercia, A., Diulgheroff, S. & Mackay, M. (2015), FAO/Bioversity Multi-Crop Passport
Descriptors V.2.1, Rome; which lines of it were read and which are from memory stands in
`fixtures/reference/mcpd.md`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    TEXT = "text"
    INSTITUTE = "institute"  # FAO WIEWS: a country's three letters and a number
    COUNTRY = "country"  # ISO 3166-1, three letters
    DATE = "date"  # YYYYMMDD, hyphens for an unknown month or day
    CODE = "code"
    DECIMAL = "decimal"
    WHOLE = "whole"
    DMS = "dms"  # degrees, minutes, seconds and the side of the globe
    GENUS = "genus"
    SPECIES = "species"
    SUBTAXA = "subtaxa"
    NAMES = "names"
    NUMBERS = "numbers"  # INSTCODE:number, or :number
    REMARKS = "remarks"


@dataclass(frozen=True)
class Field:
    """``codes`` of a CODE; ``least`` and ``most`` of a number or of degrees."""

    name: str
    kind: Kind = Kind.TEXT
    multi: bool = False
    codes: frozenset[str] = frozenset()
    least: float | None = None
    most: float | None = None


SAMPSTAT = frozenset(
    str(code)
    for code in (
        *(100, 110, 120, 130, 200, 300),
        *(400, 410, 411, 412, 413, 414, 415, 416, 420, 421, 422, 423),
        *(500, 600, 999),
    )
)
COLLSRC = frozenset(
    str(code)
    for code in (
        *(10, 11, 12, 13, 14, 15),
        *(20, 21, 22, 23, 24, 25, 26, 27, 28),
        *(30, 40, 50, 60, 61, 62, 99),
    )
)
STORAGE = frozenset(str(code) for code in (10, 11, 12, 13, 20, 30, 40, 50, 99))
MLSSTAT = frozenset({"0", "1", "99"})

FIELDS = (
    Field("PUID"),
    Field("INSTCODE", Kind.INSTITUTE),
    Field("ACCENUMB"),
    Field("COLLNUMB"),
    Field("COLLCODE", Kind.INSTITUTE, multi=True),
    Field("COLLNAME", multi=True),
    Field("COLLINSTADDRESS", multi=True),
    Field("COLLMISSID"),
    Field("GENUS", Kind.GENUS),
    Field("SPECIES", Kind.SPECIES),
    Field("SPAUTHOR"),
    Field("SUBTAXA", Kind.SUBTAXA),
    Field("SUBTAUTHOR"),
    Field("CROPNAME"),
    Field("ACCENAME", Kind.NAMES, multi=True),
    Field("ACQDATE", Kind.DATE),
    Field("ORIGCTY", Kind.COUNTRY),
    Field("COLLSITE"),
    Field("DECLATITUDE", Kind.DECIMAL, least=-90, most=90),
    Field("LATITUDE", Kind.DMS, most=90),
    Field("DECLONGITUDE", Kind.DECIMAL, least=-180, most=180),
    Field("LONGITUDE", Kind.DMS, most=180),
    Field("COORDUNCERT", Kind.WHOLE, least=0),
    Field("COORDDATUM"),
    Field("GEOREFMETH"),
    Field("ELEVATION", Kind.WHOLE),
    Field("COLLDATE", Kind.DATE),
    Field("BREDCODE", Kind.INSTITUTE, multi=True),
    Field("BREDNAME", multi=True),
    Field("SAMPSTAT", Kind.CODE, codes=SAMPSTAT),
    Field("ANCEST"),
    Field("COLLSRC", Kind.CODE, codes=COLLSRC),
    Field("DONORCODE", Kind.INSTITUTE),
    Field("DONORNAME"),
    Field("DONORNUMB"),
    Field("OTHERNUMB", Kind.NUMBERS, multi=True),
    Field("DUPLSITE", Kind.INSTITUTE, multi=True),
    Field("DUPLINSTNAME", multi=True),
    Field("STORAGE", Kind.CODE, multi=True, codes=STORAGE),
    Field("MLSSTAT", Kind.CODE, codes=MLSSTAT),
    Field("REMARKS", Kind.REMARKS, multi=True),
)
NAMES = tuple(field.name for field in FIELDS)
BY_NAME = {field.name: field for field in FIELDS}

# A code of "other" is explained in REMARKS.
OTHER = {"SAMPSTAT": "999", "COLLSRC": "99", "STORAGE": "99", "MLSSTAT": "99"}
# The name of an institute stands only where it has no code.
NAME_OF = {
    "COLLCODE": "COLLNAME",
    "BREDCODE": "BREDNAME",
    "DONORCODE": "DONORNAME",
    "DUPLSITE": "DUPLINSTNAME",
}
RANKS = ("subsp.", "convar.", "var.", "f.", "Group")
