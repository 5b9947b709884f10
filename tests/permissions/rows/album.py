"""Photos of varieties, lots and notes: seen by who sees those, added and removed by few."""

from __future__ import annotations

import base64

from tests.permissions.album import plant_photo

TABLE = """
route                    method anon  appl  other owner desk  coord admin
album-photo              GET    200*  200*  200   200   200   200   200
album-photo#private      GET    404*  404*  404   200   404   404   404
album-remove             POST   in    404   404   404   302   302   302
album-remove#note        POST   in    404   404   302   404   302   302
album-add-variety        GET    in    404   404   404   200   200   200
album-add-variety        POST   in    404   404   404   302   302   302
album-add-lot            GET    in    404   404   404   200   200   200
album-add-lot            POST   in    404   404   404   302   302   302
album-add-note           GET    in    404   404   200   404   404   404
album-add-note           POST   in    404   404   302   404   404   404
api-photo-list           GET    200*  200*  200   200   200   200   200
api-photo-list           POST   401   404   403   403   201   201   201
api-photo-detail         GET    200*  200*  200   200   200   200   200
api-photo-detail         DELETE 401   404   403   403   204   204   204
api-photo-image          GET    200*  200*  200   200   200   200   200
"""


THINGS = {
    "album-photo": lambda w: [w.variety_photo.photo.identifier],
    "album-photo#private": lambda w: [w.private_photo.photo.identifier],
    "album-remove": lambda w: [w.variety_photo.photo.identifier],
    "album-remove#note": lambda w: [w.note_photo.photo.identifier],
    "album-add-variety": lambda w: [w.variety.pk],
    "album-add-lot": lambda w: [w.lot.pk],
    "album-add-note": lambda w: [w.note_photo.note_id],
    "api-photo-detail": lambda w: [w.variety_photo.photo.identifier],
    "api-photo-image": lambda w: [w.variety_photo.photo.identifier],
}

SENT = {
    "album-add-variety POST": lambda w, me: {"photo": plant_photo(), "caption": "In June"},
    "album-add-lot POST": lambda w, me: {"photo": plant_photo()},
    "album-add-note POST": lambda w, me: {"photo": plant_photo()},
    "api-photo-list POST": lambda w, me: {
        "variety": w.variety.pk,
        "content": base64.b64encode(plant_photo().read()).decode(),
    },
}
