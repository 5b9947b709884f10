"""A file of the card box in each state that somebody can do something with."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

from django.core.files.uploadedfile import SimpleUploadedFile

from library.cardbox import running, services
from library.cardbox.models import CardImport

HEAD = "Crop,Variety\n"


def card_file(text: str = "leek,Quite New\n") -> SimpleUploadedFile:
    return SimpleUploadedFile("cards.csv", (HEAD + text).encode(), "text/csv")


def files_in_every_state(things: SimpleNamespace, members: dict, today: dt.date) -> None:
    by = members["administrator"]
    things.cards_new = _brought("leek,First Look\n", by)
    things.cards_unclear = _looked_at("drying bean,Crag Runnar\n", by)
    things.card_question = things.cards_unclear.questions.get()
    things.cards_ready = _looked_at("leek,Written Soon\n", by)
    things.cards_written = _looked_at("leek,Written Down\n", by)
    services.confirm(card_import=things.cards_written, by=by, on=today)
    running.work_at_once(things.cards_written)
    things.cards_of_people = services.bring_in(
        kind="members", file_name="people.csv", content=b"Name\nSorrel Pike\n", by=by
    )


def _brought(rows: str, by) -> CardImport:
    return services.bring_in(
        kind="varieties", file_name="cards.csv", content=(HEAD + rows).encode(), by=by
    )


def _looked_at(rows: str, by) -> CardImport:
    card = _brought(rows, by)
    services.choose_columns(card_import=card, by=by, fields={"crop": 0, "name": 1})
    running.work_at_once(card)
    return card
