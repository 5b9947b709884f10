"""What a display name may be, and when two of them are the same.

A name is shown on pages, in mail subjects and on printed slips, so it may hold nothing that
hides, reorders or breaks the text around it, and nobody may pass for somebody else by case,
width or invisible characters.
"""

from __future__ import annotations

import re
import unicodedata

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

# Joiners that some scripts and emoji need; all other format characters (bidi overrides,
# zero-width spaces, tags) only deceive.
JOINERS = {"\u200c", "\u200d"}
DECEIVING = {"Cc", "Cf", "Cs", "Co", "Zl", "Zp"}
MOST_MARKS_IN_A_ROW = 4
# Letters that look like nothing: fillers of Hangul and braille's blank.
BLANK = {"\u115f", "\u1160", "\u3164", "\uffa0", "\u2800"}
FORMER = re.compile(r"^former member\b")


def tidy(name: str) -> str:
    """The name as it is kept: composed, single spaces, none at the ends."""
    return " ".join(unicodedata.normalize("NFC", name).split())


def name_key(name: str) -> str:
    """Names with the same key are the same name: case, width and joiners do not count."""
    folded = unicodedata.normalize("NFKC", name).casefold()
    kept = "".join(c for c in folded if unicodedata.category(c) != "Cf")
    return " ".join(unicodedata.normalize("NFKC", kept).split())


def display_name(name: str) -> None:
    """A validator: one sentence for each thing that is wrong."""
    if any(_deceives(c) for c in name):
        raise ValidationError(
            _(
                "The name holds a character that cannot be seen or that turns the text around. "
                "Type it again with letters, numbers, spaces and ordinary signs."
            )
        )
    if not any(unicodedata.category(c)[0] in "LN" and c not in BLANK for c in name):
        raise ValidationError(_("The name needs at least one letter or number."))
    if _stacked(name):
        raise ValidationError(_("The name piles too many accents on one letter."))
    if FORMER.match(name_key(name)):
        raise ValidationError(
            _("Names that begin with “former member” are kept for people who have left.")
        )


def _deceives(character: str) -> bool:
    return character in BLANK or (
        unicodedata.category(character) in DECEIVING and character not in JOINERS
    )


def _stacked(name: str) -> bool:
    run = 0
    for character in unicodedata.normalize("NFD", name):
        run = run + 1 if unicodedata.category(character) in {"Mn", "Me"} else 0
        if run > MOST_MARKS_IN_A_ROW:
            return True
    return False
