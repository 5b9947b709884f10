"""Finding varieties by any of their names, misspelt too."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

from django.db.models import Case, IntegerField, OuterRef, Q, QuerySet, Subquery, Value, When
from django.utils.translation import get_language
from rapidfuzz import fuzz, process

from library.catalogue.models import Crop, Variety, VarietyName
from library.catalogue.names import fold, split_names
from library.catalogue.reference_words import names_of_crop

# With fewer hits than this, names that are spelt nearly so are looked for as well.
FEW = 3
MOST_GUESSES = 12
# Of 100. Two letters changed about in a word of four make 75; below it, guesses turn silly.
NEAR_ENOUGH = 75
SHORTEST_TO_GUESS = 4
LONGEST_TEXT = 120
MOST_WORDS = 8
# What a German plural ends with beyond its singular. A stem of fewer letters than
# SHORTEST_TO_GUESS ends too many words by chance.
PLURALS = ("n", "en", "e", "se", "s")
_TWO_LETTERS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue"})


@dataclass(frozen=True)
class Found:
    """The varieties found, best first, and the names meant perhaps when few were found."""

    varieties: QuerySet[Variety]
    did_you_mean: list[str] = field(default_factory=list)


def search(varieties: QuerySet[Variety], text: str) -> Found:
    """Those of ``varieties`` that go by ``text``: the whole name first, then names that begin
    with it, have a word that does, contain it; then those of a crop so called. When few do,
    those whose name is spelt nearly so follow.

    The number of queries does not depend on how many there are.
    """
    wanted = fold(text[:LONGEST_TEXT])
    if not wanted:
        return Found(varieties)
    exact = _by_words(varieties, wanted)
    hits = list(exact.order_by().values_list("pk", flat=True)[:FEW])
    if len(hits) >= FEW or len(wanted) < SHORTEST_TO_GUESS:
        return Found(exact)
    return _with_guesses(varieties, hits, _guesses(varieties, wanted, hits))


def _by_words(varieties: QuerySet[Variety], wanted: str) -> QuerySet[Variety]:
    words = wanted.split()[:MOST_WORDS]
    crops = _crops_by_word(words)
    # Looked for among the names, so that all words are found in the same name.
    every_word = [Q(folded__contains=word) | Q(variety__crop__in=crops[word]) for word in words]
    names = VarietyName.objects.order_by().filter(*every_word)
    rank = names.filter(variety=OuterRef("pk")).annotate(rank=_rank(wanted))
    return (
        varieties.filter(pk__in=names.values("variety"))
        .annotate(rank=Subquery(rank.order_by("rank").values("rank")[:1]))
        .order_by("rank", "folded_name", "pk")
    )


def _rank(wanted: str) -> Case:
    return Case(
        When(folded=wanted, then=0),
        When(folded__startswith=wanted, then=1),
        When(folded__contains=f" {wanted}", then=2),
        When(folded__contains=wanted, then=3),
        default=4,
        output_field=IntegerField(),
    )


def _crops_by_word(words: list[str]) -> dict[str, list[int]]:
    """The crops in whose names each word begins a word, or, in the reader's language, ends one
    ("Bohne" in "Buschbohne"); there are about a hundred crops.
    """
    crops = Crop.objects.order_by().values_list(
        "pk", "name", "other_names", "species__botanical_name"
    )
    language = get_language()
    names = {pk: (_called(*rest), _called_here(language, rest[0])) for pk, *rest in crops}
    return {
        word: [
            pk
            for pk, (called, here) in names.items()
            if f" {_singular(word)}" in called or (here and _is_part(word, here))
        ]
        for word in words
    }


@lru_cache(maxsize=1024)
def _called(name: str, others: str, species: str) -> str:
    """The crop's names in the files, folded, each word with a space before it."""
    return f" {fold(' '.join([name, *split_names(others), species]))}"


@lru_cache(maxsize=1024)
def _called_here(language: str | None, name: str) -> str:
    """Its names in the reader's language, each word between spaces; umlauts written as two
    letters too. Empty where they are the files'.
    """
    names = names_of_crop(name)
    written = [*names, *(each.translate(_TWO_LETTERS) for each in names)]
    return f" {' '.join(fold(each) for each in dict.fromkeys(written))} " if names else ""


def _is_part(word: str, called: str) -> bool:
    """Whether the word begins one of the names' words, or it or its singular ends one."""
    stems = [word, *(word.removesuffix(ending) for ending in PLURALS if word.endswith(ending))]
    return f" {word}" in called or any(
        len(stem) >= SHORTEST_TO_GUESS and f"{stem} " in called for stem in stems
    )


def _singular(word: str) -> str:
    """An English plural without its end: "tomatoes" is looked for as "tomato"."""
    for ending in ("oes", "es", "s"):
        if word.endswith(ending) and len(word) > len(ending) + 2:
            return word.removesuffix(ending) + ("o" if ending == "oes" else "")
    return word


def _guesses(
    varieties: QuerySet[Variety], wanted: str, without: list[int]
) -> list[tuple[int, str]]:
    """Varieties, and the name of theirs that is spelt most like ``wanted``, likest first."""
    names = list(
        VarietyName.objects.filter(variety__in=varieties.order_by().values("pk"))
        .exclude(variety__in=without)
        .order_by("pk")
        .values_list("folded", "variety_id", "name")
    )
    best: dict[int, str] = {}
    for place in _most_alike(wanted, [folded for folded, _variety, _name in names]):
        _folded, variety, name = names[place]
        best.setdefault(variety, name)
    return list(best.items())[:MOST_GUESSES]


def _most_alike(wanted: str, names: list[str]) -> list[int]:
    """The places of the names that are spelt like ``wanted``, likest first.

    A longer name is alike when a part of it is ("kestral" in "kestrel red"). A shorter one must
    be alike as a whole, or every short name would be found in a long text.
    """
    longer = {n: name for n, name in enumerate(names) if len(name) >= len(wanted)}
    shorter = {n: name for n, name in enumerate(names) if len(name) < len(wanted)}
    near = [
        (score, fuzz.ratio(wanted, name), -place)
        for scorer, group in ((fuzz.partial_ratio, longer), (fuzz.ratio, shorter))
        for name, score, place in process.extract(
            wanted, group, scorer=scorer, score_cutoff=NEAR_ENOUGH, limit=2 * MOST_GUESSES
        )
    ]
    return [-place for _score, _whole, place in sorted(near, reverse=True)]


def _with_guesses(
    varieties: QuerySet[Variety], hits: list[int], guesses: list[tuple[int, str]]
) -> Found:
    order = [*hits, *(pk for pk, _name in guesses)]
    place = Case(
        *[When(pk=pk, then=Value(number)) for number, pk in enumerate(order)],
        default=Value(len(order)),
        output_field=IntegerField(),
    )
    found = varieties.filter(pk__in=order).annotate(rank=place).order_by("rank", "pk")
    return Found(found, [name for _pk, name in guesses][:3])
