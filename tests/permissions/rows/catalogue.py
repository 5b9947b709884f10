"""The card file: cards by the desk, notes by members."""

from __future__ import annotations

TABLE = """
route                            method anon  appl  other owner desk  coord admin
browse                           GET    200*  200*  200   200   200   200   200
crops                            GET    200*  200*  200   200   200   200   200
crop                             GET    200*  200*  200   200   200   200   200
variety-add                      GET    in    404   404   404   200   200   200
variety-add                      POST   in    404   404   404   302   302   302
variety                          GET    200*  200*  200   200   200   200   200
variety-edit                     GET    in    404   404   404   200   200   200
variety-edit                     POST   in    404   404   404   302   302   302
season-note-add                  GET    in    404   200   200   200   200   200
season-note-add                  POST   in    404   302   302   302   302   302
season-note-edit                 GET    in    404   404   200   404   404   404
season-note-edit                 POST   in    404   404   302   404   404   404
season-note-edit#mine-only       GET    in    404   404   200   404   404   404
season-note-edit#mine-only       POST   in    404   404   302   404   404   404
season-note-remove               GET    in    404   404   200   404   200   200
season-note-remove               POST   in    404   404   302   404   302   302
season-note-remove#mine-only     GET    in    404   404   200   404   404   404
season-note-remove#mine-only     POST   in    404   404   302   404   404   404
season-note-put-back             POST   in    404   302=  302=  302=  302=  302=
species-list                     GET    200*  200*  200   200   200   200   200
species-detail                   GET    200*  200*  200   200   200   200   200
crops-list                       GET    200*  200*  200   200   200   200   200
crops-detail                     GET    200*  200*  200   200   200   200   200
varieties-list                   GET    200*  200*  200   200   200   200   200
varieties-list                   POST   401   404   404   404   201   201   201
varieties-detail                 GET    200*  200*  200   200   200   200   200
varieties-detail                 PATCH  401   404   404   404   200   200   200
varieties-detail#breeding-status PATCH  401   404   404   404   403   200   200
notes-list                       GET    200*  200*  200   200   200   200   200
notes-list                       POST   401   404   201   201   201   201   201
notes-detail                     GET    404*  404   200   200   200   200   200
notes-detail                     PATCH  401   404   403   200   403   403   403
notes-detail                     DELETE 401   404   403   204   403   204   204
notes-detail#everyone            GET    200*  200*  200   200   200   200   200
notes-detail#everyone            PATCH  401   404   403   200   403   403   403
notes-detail#everyone            DELETE 401   404   403   204   403   204   204
notes-detail#mine-only           GET    404*  404   404   200   404   404   404
notes-detail#mine-only           PATCH  401   404   404   200   404   404   404
notes-detail#mine-only           DELETE 401   404   404   204   404   404   404
"""

THINGS = {
    "crop": lambda w: [w.crop.slug],
    "variety": lambda w: [w.variety.pk, w.variety.slug],
    "variety-edit": lambda w: [w.variety.pk],
    "season-note-add": lambda w: [w.variety.pk],
    "season-note-edit": lambda w: [w.note_members.pk],
    "season-note-edit#mine-only": lambda w: [w.note_me.pk],
    "season-note-remove": lambda w: [w.note_members.pk],
    "season-note-remove#mine-only": lambda w: [w.note_me.pk],
    "species-detail": lambda w: [w.crop.species.slug],
    "crops-detail": lambda w: [w.crop.slug],
    "varieties-detail": lambda w: [w.variety.pk],
    "notes-detail": lambda w: [w.note_members.pk],
    "notes-detail#everyone": lambda w: [w.note_everyone.pk],
    "notes-detail#mine-only": lambda w: [w.note_me.pk],
}


def _card(w, crop) -> dict:
    return {"crop": crop, "name": "Hollow Speckle", "breeding_status": "open-pollinated"}


NOTE = {"year": 2026, "text": "Late, and good.", "readers": "members"}
SENT = {
    "variety-add POST": lambda w, me: _card(w, w.crop.pk),
    "variety-edit POST": lambda w, me: _card(w, w.crop.pk) | {"revision": 0},
    "season-note-add POST": lambda w, me: NOTE,
    "season-note-edit POST": lambda w, me: NOTE,
    "season-note-edit#mine-only POST": lambda w, me: NOTE,
    "season-note-remove POST": lambda w, me: {"sure": "yes"},  # it has a photo
    "season-note-remove#mine-only POST": lambda w, me: {"sure": "yes"},
    "varieties-list POST": lambda w, me: _card(w, w.crop.slug),
    "varieties-detail PATCH": lambda w, me: {"description": "Cream, with a red eye."},
    "varieties-detail#breeding-status PATCH": lambda w, me: {
        "breeding_status": "segregating",
        "generation": 3,
    },
    "notes-list POST": lambda w, me: NOTE | {"variety": w.variety.pk},
    "notes-detail PATCH": lambda w, me: {"text": "Changed."},
    "notes-detail#everyone PATCH": lambda w, me: {"text": "Changed."},
    "notes-detail#mine-only PATCH": lambda w, me: {"text": "Changed."},
}
