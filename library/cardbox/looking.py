"""What will become of each row: the file is read into rows, and each is judged.

Both go on a batch at a time, each batch one short transaction; what was done before a process
died stays done.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from itertools import islice

from django.db import transaction
from django.utils.translation import gettext as _

from library.cardbox.kinds import KindOfCard
from library.cardbox.kinds.base import LEAVE, NEW, Asked, Verdict, key_of_question
from library.cardbox.models import CardImport, CardRow, Kind, Question
from library.cardbox.reading import Table

AT_ONCE = 500
Fate = CardRow.Fate
TWICE = "twice"  # the field of the question what to do with rows that say the same


def table_of(card_import: CardImport) -> Table:
    content = CardImport.objects.values_list("content", flat=True).get(pk=card_import.pk)
    return Table(bytes(content or b""), dict(card_import.told))


def read_rows(card_import: CardImport) -> Iterator[int]:
    """Keep the file's rows, those that are not kept yet; says how many are after each batch."""
    last = card_import.rows.order_by("-number").values_list("number", flat=True).first() or 0
    rows = table_of(card_import).rows()
    next(rows)  # the headings
    fresh = ((number, cells) for number, cells in rows if number > last)
    while part := list(islice(fresh, AT_ONCE)):
        CardRow.objects.bulk_create(
            CardRow(card_import=card_import, number=number, cells=cells)
            for number, cells in part
        )
        yield len(part)


def judge_rows(card_import: CardImport, kind: KindOfCard) -> Iterator[int]:
    """Judge every row that has no fate yet, in their order."""
    while part := list(card_import.rows.filter(fate=Fate.UNSEEN).order_by("number")[:AT_ONCE]):
        judge_batch(card_import, kind, part)
        yield len(part)


def judge_batch(card_import: CardImport, kind: KindOfCard, rows: list[CardRow]) -> None:
    """Reads and thinks outside of a transaction; writes in a short one."""
    verdicts = [(row, kind.verdict_on(row.cells)) for row in rows]
    _find_the_same(card_import, kind, verdicts)
    with transaction.atomic():
        questions = _questions(card_import, [v.asked for _row, v in verdicts if v.asked])
        for row, verdict in verdicts:
            _apply(row, verdict, kind)
            asked = verdict.asked
            row.question = (
                questions[asked.field, key_of_question(asked.text)] if asked else None
            )
        CardRow.objects.write_back(
            rows, "fate", "said", "column", "values", "key", "reference", "question"
        )


def _apply(row: CardRow, verdict: Verdict, kind: KindOfCard) -> None:
    row.fate, row.said = verdict.fate, verdict.said
    row.column = kind.heading_of(verdict.field) if verdict.field else ""
    row.values, row.key, row.reference = verdict.values, verdict.key, verdict.reference


def _questions(card_import: CardImport, asked: Iterable[Asked]) -> dict[tuple, Question]:
    """A question for each thing that is asked, made once."""
    wanted = {(each.field, key_of_question(each.text)): each for each in asked}
    if not wanted:
        return {}
    Question.objects.bulk_create(
        [
            Question(
                card_import=card_import,
                field=field,
                folded=folded,
                asked=each.sentence[:250],
                options=each.options,
            )
            for (field, folded), each in wanted.items()
        ],
        ignore_conflicts=True,
    )
    kept = Question.objects.filter(
        card_import=card_import, folded__in={folded for _field, folded in wanted}
    )
    return {(each.field, each.folded): each for each in kept}


def _find_the_same(
    card_import: CardImport, kind: KindOfCard, verdicts: list[tuple[CardRow, Verdict]]
) -> None:
    """Rows that say what an earlier row said, of this file or of one written before."""
    keys = {v.key for _row, v in verdicts if v.key and v.fate == Fate.NEW}
    if not keys:
        return
    before = _first_rows(card_import, keys, verdicts[0][0].number)
    elsewhere = _written_before(card_import, keys)
    for row, verdict in verdicts:
        if verdict.fate != Fate.NEW or not verdict.key:
            continue
        if verdict.key in elsewhere:
            _is_here(verdict, _("Written already, with the file “%(file)s” on %(day)s.")
                     % elsewhere[verdict.key])  # fmt: skip
        elif verdict.key in before:
            _says_the_same(kind, verdict, before[verdict.key])
        else:
            before[verdict.key] = row.number


def _first_rows(card_import: CardImport, keys: set[str], upto: int) -> dict[str, int]:
    rows = card_import.rows.filter(
        key__in=keys, number__lt=upto, fate__in=[Fate.NEW, Fate.WRITTEN]
    )
    return dict(rows.order_by("-number").values_list("key", "number"))


def _written_before(card_import: CardImport, keys: set[str]) -> dict[str, dict[str, str]]:
    rows = CardRow.objects.still_there().filter(key__in=keys).exclude(card_import=card_import)
    found = rows.values_list("key", "card_import__file_name", "card_import__confirmed_on")
    return {key: {"file": name, "day": str(day)} for key, name, day in found}


def _is_here(verdict: Verdict, said: str) -> None:
    verdict.fate, verdict.said, verdict.field = Fate.HERE, said, ""


def _says_the_same(kind: KindOfCard, verdict: Verdict, number: int) -> None:
    """Cards and people are the same when they are called the same. Two jars may well be told
    of in the same words: what to do with such rows is asked once for the file.
    """
    same = _("It says the same as row %(n)s.") % {"n": number}
    if kind.kind not in (Kind.LOTS, Kind.LOANS):
        return _is_here(verdict, same)
    answer = kind.answers.get((TWICE, TWICE), "")
    if answer == NEW:
        return None
    if answer == LEAVE:
        verdict.fate, verdict.said, verdict.field = Fate.LEFT, same, ""
        return None
    sentence = _(
        "Some rows say exactly what a row above says. Are they written twice by mistake?"
    )
    options = [
        (NEW, _("No: write each of them")),
        (LEAVE, _("Yes: leave the repetitions out")),
    ]
    verdict.fate, verdict.said, verdict.field = Fate.UNCLEAR, same, ""
    verdict.asked = Asked(TWICE, TWICE, sentence, options)
    return None


def today_of(card_import: CardImport) -> dt.date:
    """The day on which what has no day of its own happens."""
    from django.utils import timezone

    return card_import.confirmed_on or timezone.localdate()
