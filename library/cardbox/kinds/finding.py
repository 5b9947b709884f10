"""Cards, lots, places and people that a row names, or a question about them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.conf import settings
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from accounts.models import Community
from library.cardbox.kinds.base import NEW, Judged, KindOfCard, wrong
from library.cardbox.naming import Names
from library.cardbox.values import cut
from library.catalogue.models import Crop, VarietyName
from library.catalogue.names import fold, split_names
from library.catalogue.reference_words import name_of_crop, names_in
from library.catalogue.search import PLURALS, SHORTEST_TO_GUESS


def crop_names() -> Names:
    """Crops as the files call them and as the other languages do: a card box was written before
    anybody chose a language here. The reader's language and the library's come first.
    """
    rows = Crop.objects.select_related("species").order_by("pk")
    crops = list(rows)
    here = dict.fromkeys([get_language() or "en", Community.current().language])
    elsewhere = [code for code, _language in settings.LANGUAGES if code not in here]
    local = {crop.pk: _names_of(crop, here) for crop in crops}
    names = Names((fold(crop.name), crop.pk, crop.local_name) for crop in crops)
    for crop in crops:
        _also_in_plural(names, local[crop.pk], crop)
    for crop in crops:
        for other in split_names(crop.other_names):
            names.also(fold(other), crop.pk, crop.local_name)
        for plural in (f"{crop.name}s", f"{crop.name}es"):
            names.also(fold(plural), crop.pk, crop.local_name)
    for crop in crops:
        local[crop.pk] += _names_of(crop, elsewhere)
        _also_in_plural(names, local[crop.pk], crop)
    _with_species(names, crops)
    _with_words(names, crops)
    _with_endings(names, crops, local)
    return names


def _names_of(crop: Crop, languages: Iterable[str]) -> list[str]:
    return [name for language in languages for name in names_in(language, crop.name)]


def _also_in_plural(names: Names, written: list[str], crop: Crop) -> None:
    for name in written:
        for ending in ("", *PLURALS):
            names.also(fold(f"{name}{ending}"), crop.pk, crop.local_name)


def _with_endings(names: Names, crops: list[Crop], local: dict[int, list[str]]) -> None:
    """The end of a compound means every crop whose first name ends so: "Bohne" is asked about,
    as "bean" is.
    """
    of_ending: dict[str, set[int]] = {}
    for crop in crops:
        for word in {part for name in local[crop.pk][:1] for part in fold(name).split()}:
            for start in range(len(word) - SHORTEST_TO_GUESS + 1):
                for plural in ("", *PLURALS):
                    of_ending.setdefault(f"{word[start:]}{plural}", set()).add(crop.pk)
    shared = {ending: keys for ending, keys in of_ending.items() if len(keys) > 1}
    _each_means_all(names, crops, shared)


def _with_words(names: Names, crops: list[Crop]) -> None:
    """A word of a crop's name means every crop that has it: "bean" is asked about."""
    of_word: dict[str, set[int]] = {}
    for crop in crops:
        for word in fold(crop.name).split():
            for written in (word, f"{word}s", f"{word}es"):
                of_word.setdefault(written, set()).add(crop.pk)
    _each_means_all(names, crops, of_word)


def _each_means_all(names: Names, crops: list[Crop], meant: dict[str, set[int]]) -> None:
    """A word that names nothing yet means every crop of its keys, so it is asked about."""
    shown = {crop.pk: crop.local_name for crop in crops}
    for word, keys in meant.items():
        if not names.exactly(word):
            for key in sorted(keys):
                names.add(word, key, shown[key])


def _with_species(names: Names, crops: list[Crop]) -> None:
    """A species' name means its crop where it has only one."""
    of_species: dict[int, list[Crop]] = {}
    for crop in crops:
        of_species.setdefault(crop.species_id, []).append(crop)
    for its in of_species.values():
        if len(its) == 1:
            for name in (its[0].species.botanical_name, its[0].species.common_name):
                names.also(fold(name), its[0].pk, its[0].local_name)


def variety_names(*, crop: int | None = None) -> Names:
    """Every name of every card (of the crop); "Name (crop)" are the words for it."""
    rows = VarietyName.objects.order_by("pk")
    if crop is not None:
        rows = rows.filter(variety__crop=crop)
    known = list(
        rows.values_list("folded", "variety_id", "variety__name", "variety__crop__name")
    )
    shown = {crop_: name_of_crop(crop_) for crop_ in {row[3] for row in known}}
    names = Names((folded, pk, f"{name} ({shown[crop_]})") for folded, pk, name, crop_ in known)
    for folded, pk, name, crop_ in known:
        for kind in dict.fromkeys([fold(crop_), fold(shown[crop_])]):
            for written in (f"{kind} {folded}", f"{folded} {kind}"):
                names.also(written, pk, f"{name} ({shown[crop_]})")
    return names


def one_of(
    kind: KindOfCard,
    names: Names,
    field: str,
    text: str,
    *,
    unknown: str,
    may_be_new: str = "",
) -> int | None:
    """The key of what is named. None where a person said it is new. Raises the verdict:
    a question where several are meant or nearly so, else wrong with ``unknown``.
    """
    if answer := kind.decided(field, text):
        return None if answer == NEW else int(answer)
    exact = names.exactly(text)
    if len(exact) == 1:
        return next(iter(exact))
    guesses = list(exact.items()) or names.nearly(text)
    if not guesses:
        if may_be_new:
            return None
        raise wrong(field, unknown)
    raise _which(kind, field, text, guesses, several=bool(exact), may_be_new=may_be_new)


def _which(
    kind: KindOfCard,
    field: str,
    text: str,
    guesses: list[tuple[int, str]],
    *,
    several: bool,
    may_be_new: str,
) -> Judged:
    sentence = (
        _("“%(text)s” can be several; which is meant?")
        if several
        else _("“%(text)s” is not known here. Is it one of these, written differently?")
    ) % {"text": cut(text)}
    options: list[tuple[str, Any]] = [(str(key), words) for key, words in guesses[:8]]
    if may_be_new:
        options.append((NEW, may_be_new))
    return kind.ask(field, text, sentence, options)
