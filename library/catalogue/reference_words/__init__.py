"""The reference files' words in the reader's language.

The files are English, and so is what the database keeps, what leaves in a file and what figures
are looked up by. Where a person reads, these functions say it in that person's language. A word
that no file has (a crop that a coordinator added) is shown as it was written.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import lru_cache
from typing import TypeVar

from django.utils import translation
from django.utils.translation import gettext, pgettext

from library.catalogue.names import fold, split_names
from library.catalogue.reference_words.cautions import CAUTIONS
from library.catalogue.reference_words.crops import NAMES, NOTES
from library.catalogue.reference_words.species import (
    BREEDING,
    COMMON_NAMES,
    CONSTANTS,
    DOUBTS,
    FIGURES,
    LIFE_CYCLES,
)

# Asked before anything is looked up: a member's own word may be a word of some page as well,
# and the translation of no text at all is the catalogue's head.
_NAMES = frozenset(NAMES)
_SPECIES = frozenset(COMMON_NAMES)
_SENTENCES = frozenset(
    [*NOTES, *CAUTIONS, *BREEDING, *LIFE_CYCLES, *DOUBTS, *FIGURES, *CONSTANTS]
)

Thing = TypeVar("Thing")


def names_of_crop(name: str) -> list[str]:
    """What the reader's language calls a crop of the files, the usual name first; none where
    it has no other word than the file's.
    """
    told = pgettext("crop", name) if name in _NAMES else name
    return split_names(told) if told != name else []


def name_of_crop(name: str) -> str:
    return next(iter(names_of_crop(name)), name)


def name_of_species(common_name: str) -> str:
    return pgettext("species", common_name) if common_name in _SPECIES else common_name


def names_in(language: str, name: str) -> list[str]:
    """What that language calls the crop, as ``names_of_crop`` does for the reader's."""
    with translation.override(language):
        return names_of_crop(name)


def sentence(text: str) -> str:
    """A note, a caution or a figure's words of the files; any other text as it is."""
    return gettext(text) if text in _SENTENCES else text


def in_shown_order(things: Iterable[Thing], *, stored: Callable[[Thing], str]) -> list[Thing]:
    """The things by the name of their crop as it is shown; ``stored`` tells the name as kept.

    They come in the stored names' order, and stay so where those are what is shown.
    """
    found = list(things)
    shown = {name: name_of_crop(name) for name in {stored(thing) for thing in found}}
    if all(name == said for name, said in shown.items()):
        return found
    return sorted(found, key=lambda thing: _place(shown[stored(thing)]))


@lru_cache(maxsize=64)  # the crops change seldom, and many pages have them in a select
def choices_in(
    language: str | None, crops: tuple[tuple[str, str], ...]
) -> tuple[tuple[str, str], ...]:
    """Slug and shown name of each crop, in the order of what the active language shows."""
    ordered = in_shown_order(crops, stored=lambda crop: crop[1])
    return tuple((slug, name_of_crop(name)) for slug, name in ordered)


_place = lru_cache(maxsize=1024)(fold)  # a list of crops is put in order on many pages
