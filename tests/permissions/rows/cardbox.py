"""The card box: files of seed are a coordinator's, files of people an administrator's."""

from __future__ import annotations

from tests.permissions.cardbox import card_file

TABLE = """
route                        method anon  appl  other owner desk  coord admin
card-imports                 GET    in    404   404   404   404   200   200
card-imports                 POST   in    404   404   404   404   302   302
card-example                 GET    in    404   404   404   404   200   200
card-example#people          GET    in    404   404   404   404   404   200
card-import                  GET    in    404   404   404   404   200   200
card-import#people           GET    in    404   404   404   404   404   200
card-import-columns          GET    in    404   404   404   404   200   200
card-import-columns          POST   in    404   404   404   404   302   302
card-import-columns#people   POST   in    404   404   404   404   404   302
card-import-answers          POST   in    404   404   404   404   302   302
card-import-confirm          POST   in    404   404   404   404   302   302
card-import-stop             POST   in    404   404   404   404   302   302
card-import-stop#people      POST   in    404   404   404   404   404   302
card-import-undo             POST   in    404   404   404   404   302   302
card-import-back             GET    in    404   404   404   404   200   200
card-import-back#people      GET    in    404   404   404   404   404   200
card-noted                   GET    in    404   404   404   404   404   200
card-noted-forget            POST   in    404   404   404   404   404   302
api-card-import-list         GET    401   404   404   404   404   200   200
api-card-import-list         POST   401   404   404   404   404   201   201
api-card-import-detail       GET    401   404   404   404   404   200   200
api-card-import-detail#people GET   401   404   404   404   404   404   200
api-card-import-rows         GET    401   404   404   404   404   200   200
api-card-import-rows#people  GET    401   404   404   404   404   404   200
api-card-import-columns      POST   401   404   404   404   404   200   200
api-card-import-answers      POST   401   404   404   404   404   200   200
api-card-import-confirm      POST   401   404   404   404   404   200   200
api-card-import-stop         POST   401   404   404   404   404   200   200
api-card-import-undo         POST   401   404   404   404   404   200   200
"""

THINGS = {
    "card-example": lambda w: ["lots"],
    "card-example#people": lambda w: ["members"],
    "card-import": lambda w: [w.cards_unclear.pk],
    "card-import-columns": lambda w: [w.cards_new.pk],
    "card-import-answers": lambda w: [w.cards_unclear.pk],
    "card-import-confirm": lambda w: [w.cards_ready.pk],
    "card-import-stop": lambda w: [w.cards_ready.pk],
    "card-import-undo": lambda w: [w.cards_written.pk],
    "card-import-back": lambda w: [w.cards_unclear.pk],
    **{
        f"{route}#people": lambda w: [w.cards_of_people.pk]
        for route in (
            "card-import",
            "card-import-columns",
            "card-import-stop",
            "card-import-back",
            "api-card-import-detail",
            "api-card-import-rows",
        )
    },
    "card-noted-forget": lambda w: [w.noted.pk],
    "api-card-import-detail": lambda w: [w.cards_unclear.pk],
    "api-card-import-rows": lambda w: [w.cards_unclear.pk],
    "api-card-import-columns": lambda w: [w.cards_new.pk],
    "api-card-import-answers": lambda w: [w.cards_unclear.pk],
    "api-card-import-confirm": lambda w: [w.cards_ready.pk],
    "api-card-import-stop": lambda w: [w.cards_ready.pk],
    "api-card-import-undo": lambda w: [w.cards_written.pk],
}

SENT = {
    "card-imports POST": lambda w, me: {"kind": "varieties", "file": card_file()},
    "card-import-columns POST": lambda w, me: {"column_0": "crop", "column_1": "name"},
    "card-import-columns#people POST": lambda w, me: {"column_0": "name"},
    "card-import-answers POST": lambda w, me: {f"q_{w.card_question.pk}": "new"},
    "api-card-import-list POST": lambda w, me: {
        "kind": "varieties",
        "content": card_file().read().decode(),
    },
    "api-card-import-columns POST": lambda w, me: {"fields_of_columns": {"crop": 0, "name": 1}},
    "api-card-import-answers POST": lambda w, me: {"answers": {str(w.card_question.pk): "new"}},
}
