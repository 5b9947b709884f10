"""A botanical name in the fields of the passport descriptors."""

from __future__ import annotations

import re
from typing import NamedTuple

_RANKED = re.compile(r"(?P<before>.*?)\s+(?P<rank>subsp\.|convar\.|var\.|f\.)\s+(?P<name>.+)")
_GROUP = re.compile(r"(?P<before>.*?)\s*\(?(?P<name>[A-Z][\w -]*?) Group\)?")
_BINOMIAL = re.compile(
    r"(?P<genus>(?:× ?)?[A-Z][a-zë-]+)(?:\s+(?P<species>(?:× ?)?[a-zë-]+|sp\.))?"
)


class Taxon(NamedTuple):
    """GENUS, SPECIES and SUBTAXA; empty where the name does not give it."""

    genus: str = ""
    species: str = ""
    subtaxa: str = ""


def taxon_of(botanical_name: str) -> Taxon:
    """``Daucus carota subsp. sativus`` in its three fields; a group as ``Group Leek``.

    A name that is not made so gives nothing: a field is empty rather than wrong.
    """
    name, subtaxa = " ".join(botanical_name.split()), ""
    if found := _RANKED.fullmatch(name):
        name, subtaxa = found["before"], f"{found['rank']} {found['name']}"
    elif found := _GROUP.fullmatch(name):
        name, subtaxa = found["before"], f"Group {found['name']}"
    binomial = _BINOMIAL.fullmatch(name)
    if binomial is None:
        return Taxon()
    return Taxon(binomial["genus"], binomial["species"] or "sp.", subtaxa)
