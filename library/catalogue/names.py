"""Names as people type them: accents, case and punctuation do not matter for finding."""

from __future__ import annotations

import re
import unicodedata

# A letter may fold into several (ß to ss, and some ligatures into many): room for that.
FOLDED_LENGTH = 200

_APOSTROPHES = re.compile("['\u2018\u2019\u02bc`\u00b4]")
_NOT_A_WORD = re.compile(r"[\W_]+")


def fold(name: str) -> str:
    """``"Großmutter’s Früh-Erbse"`` becomes ``"grossmutters fruh erbse"``.

    A name without a letter or digit folds to itself in lower case, so that it stays findable.
    """
    parted = unicodedata.normalize("NFKD", _APOSTROPHES.sub("", name)).casefold()
    bare = "".join(char for char in parted if not unicodedata.combining(char))
    words = _NOT_A_WORD.sub(" ", bare).strip()
    return (words or name.strip().casefold())[:FOLDED_LENGTH]


def split_names(text: str) -> list[str]:
    """The names in a list written with semicolons, as the reference files write them."""
    return [name.strip() for name in text.split(";") if name.strip()]
