"""Names as the file writes them, and the ones that are known here."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from rapidfuzz import fuzz, process

from library.catalogue.names import fold

NEAR = 80  # of 100; below it guesses turn silly
SHORTEST = 4
MOST_GUESSES = 5


class Names:
    """Known names, each with the key and the words of what it names."""

    def __init__(self, known: Iterable[tuple[str, int, str]]) -> None:
        self._exact: dict[str, dict[int, str]] = defaultdict(dict)
        for folded, key, words in known:
            self._exact[folded].setdefault(key, words)
        self._all: list[str] | None = None
        self._guessed: dict[str, list[tuple[int, str]]] = {}

    def also(self, folded: str, key: int, words: str) -> None:
        """One more way to write a name, where that means nothing else yet."""
        if folded not in self._exact:
            self._exact[folded][key] = words

    def add(self, folded: str, key: int, words: str) -> None:
        self._exact[folded].setdefault(key, words)

    def exactly(self, text: str) -> dict[int, str]:
        """What goes by this name, accents, case and punctuation aside."""
        return self._exact.get(fold(text), {})

    def nearly(self, text: str) -> list[tuple[int, str]]:
        """What goes by a name that is spelt nearly so, likest first."""
        wanted = fold(text)
        if len(wanted) < SHORTEST:
            return []
        if wanted not in self._guessed:
            self._guessed[wanted] = self._near(wanted)
        return self._guessed[wanted]

    def _near(self, wanted: str) -> list[tuple[int, str]]:
        if self._all is None:
            self._all = list(self._exact)
        found: dict[int, str] = {}
        for name, _score, _place in process.extract(
            wanted, self._all, scorer=fuzz.token_sort_ratio, score_cutoff=NEAR, limit=12
        ):
            found |= {k: w for k, w in self._exact[name].items() if k not in found}
        return list(found.items())[:MOST_GUESSES]
