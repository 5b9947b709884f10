"""What the four kinds share: fields, verdicts, and what is asked of a person."""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, ClassVar

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from accounts.models import Member
from library.cardbox.models import CardImport, CardRow
from library.cardbox.values import Writing
from library.catalogue.names import fold
from library.errors import Refused

Fate = CardRow.Fate
Words = str | Promise
LEAVE, NEW = "leave", "new"
FORMULA = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def never(heading: str) -> bool:
    return False


def always(heading: str) -> bool:
    return True


@dataclass(frozen=True)
class Field:
    """``words`` are headings that mean it, folded; ``look`` whether a cell could hold it.

    ``tells`` says that a column which looks so is hardly anything else (emails, crops).
    """

    name: str
    label: Words
    words: str
    required: bool = False
    look: Callable[[str], bool] | None = None
    tells: bool = False
    kind_of_value: str = "text"  # or "day", "number"
    is_whole: Callable[[str], bool] = never  # of a number: under this heading it is a count


@dataclass(frozen=True)
class Option:
    """Something that is decided once for all rows of a file."""

    name: str
    label: Words
    help_text: Words = ""


@dataclass(frozen=True)
class Asked:
    field: str
    text: str
    sentence: str
    options: list[tuple[str, str]]


@dataclass
class Verdict:
    """What will become of a row, and what is said of it."""

    fate: str
    said: str = ""
    field: str = ""
    values: dict[str, Any] = dataclasses.field(default_factory=dict)
    key: str = ""
    reference: str = ""
    asked: Asked | None = None


class Judged(Exception):
    """The verdict on a row, reached while reading it."""

    def __init__(self, verdict: Verdict) -> None:
        self.verdict = verdict


def wrong(name: str, said: str) -> Judged:
    return Judged(Verdict(Fate.WRONG, said, name))


class KindOfCard:
    """One kind of card. ``judge`` looks, ``write`` calls services, ``undo`` takes it back."""

    kind: ClassVar[str]
    title: ClassVar[Words]
    fields: ClassVar[tuple[Field, ...]]
    options: ClassVar[tuple[Option, ...]] = ()
    example: ClassVar[tuple[tuple[str, ...], ...]]
    forgets: ClassVar[bool] = False  # what its rows said is dropped once it is written

    def __init__(self, card_import: CardImport, *, on: dt.date) -> None:
        self.card_import = card_import
        self.on = on
        self.writing = Writing(
            card_import.columns.get("day_first"), card_import.columns.get("comma_is_decimal")
        )
        self.answers = {
            (field_, folded): answer
            for field_, folded, answer in card_import.questions.exclude(answer="").values_list(
                "field", "folded", "answer"
            )
        }

    # Judging ------------------------------------------------------------------------------
    def verdict_on(self, cells: list[str]) -> Verdict:
        """What will become of a row with these cells. Nothing is written."""
        too_wide = [cell for cell in cells[len(self.card_import.headings) :] if cell.strip()]
        if too_wide:
            return Verdict(
                Fate.WRONG,
                _("“%(cell)s” stands beyond the last heading; give its column a heading, or "
                  "look whether a delimiter inside the text cut a cell in two.")
                % {"cell": too_wide[0][:60]},
            )  # fmt: skip
        said = {
            name: unguarded(cells[place]) if place < len(cells) else ""
            for name, place in self.card_import.fields.items()
        }
        try:
            for each in self.fields:
                if each.required and not said.get(each.name):
                    raise wrong(each.name, _("The cell is empty; it is needed for every row."))
            return self.judge(said)
        except Judged as judged:
            return judged.verdict

    def judge(self, said: dict[str, str]) -> Verdict:
        raise NotImplementedError

    def read(self, said: dict[str, str], name: str, reader: Callable[[str], Any]) -> Any:
        """What the cell holds, or None; a refusal becomes the verdict."""
        text = said.get(name, "")
        if not text:
            return None
        try:
            return reader(text)
        except Refused as refusal:
            raise wrong(name, str(refusal)) from None

    def decided(self, name: str, text: str) -> str:
        """What a person decided of this; empty where nobody did. Raises for what is left."""
        answer = self.answers.get((name, key_of_question(text)), "")
        if answer == LEAVE:
            raise Judged(Verdict(Fate.LEFT, _("Left out, as was decided."), name))
        return answer

    def ask(
        self, name: str, text: str, sentence: str, options: list[tuple[str, str]]
    ) -> Judged:
        leave = (LEAVE, _("Leave these rows out"))
        asked = Asked(name, text, sentence, [*options, leave])
        return Judged(Verdict(Fate.UNCLEAR, sentence, name, asked=asked))

    def heading_of(self, name: str) -> str:
        place = self.card_import.fields.get(name)
        return "" if place is None else self.card_import.headings[place]

    def option(self, name: str) -> bool:
        return bool(self.card_import.options.get(name))

    # Writing ------------------------------------------------------------------------------
    def prepare(self, rows: list[CardRow]) -> None:
        """Read in one go what writing these rows will ask for."""

    def write(self, row: CardRow, *, by: Member) -> dict[str, Any]:
        """Call the service; what it made, by key. Raises Refused."""
        raise NotImplementedError

    def rests_on(self, row: CardRow) -> str:
        """What was built on what the row made, in words; empty when nothing was."""
        raise NotImplementedError

    def undo(self, row: CardRow, *, by: Member, on: dt.date) -> None:
        """Take back what the row made, by the services. Raises Refused."""
        raise NotImplementedError


def unguarded(cell: str) -> str:
    """The cell's text, without the apostrophe that our own files put before what a spreadsheet
    would calculate. A formula is text here, and nothing else.
    """
    cell = cell.strip()
    return cell[1:] if cell[:1] == "'" and cell[1:2] in FORMULA else cell


def key_of(kind: str, *parts: Any) -> str:
    """A short name for what a row is about: the same for the same thing."""
    text = json.dumps([kind, *parts], default=str, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:48]


def key_of_question(text: str) -> str:
    folded = fold(text)
    return folded if len(folded) <= 64 else key_of("question", folded)


UNDONE = gettext_lazy("the import was undone")
