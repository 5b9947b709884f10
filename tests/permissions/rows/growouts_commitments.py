"""Commitments: the grower's own, every one for a coordinator."""

from __future__ import annotations

TABLE = """
route                             method anon  appl  other owner desk  coord admin
commitment                        GET    in    404   404   200   404   200   200
commitment-accept                 GET    in    404   404   200   404   404   404
commitment-accept                 POST   in    404   404   302   404   404   404
commitment-decline                GET    in    404   404   200   404   404   404
commitment-decline                POST   in    404   404   302   404   404   404
commitment-fail                   GET    in    404   404   200   404   200   200
commitment-fail                   POST   in    404   404   302   404   302   302
commitment-withdraw               GET    in    404   404   404   404   200   200
commitment-withdraw               POST   in    404   404   404   404   302   302
commitment-replace                POST   in    404   404   404   404   302=  302=
commitment-report                 GET    in    404   404   200   404   200   200
commitment-report                 POST   in    404   404   302   404   302   302
season-commitments                GET    in    404   404   404   404   200   200
season-ask                        GET    in    404   404   404   404   200   200
season-ask                        POST   in    404   404   404   404   302   302
growout-photo                     GET    in    404   404   200   404   200   200
api-commitment-list               GET    401   404   200   200   200   200   200
api-commitment-detail             GET    401   404   404   200   404   200   200
api-commitment-guidance           GET    401   404   404   200   404   200   200
api-commitment-accept             POST   401   404   404   200   404   403   403
api-commitment-decline            POST   401   404   404   200   404   403   403
api-commitment-fail               POST   401   404   404   200   404   200   200
api-commitment-withdraw           POST   401   404   404   403   404   200   200
api-commitment-report             POST   401   404   404   200   404   200   200
api-commitment-list               POST   401   404   403   403   403   201   201
api-commitment-replacement        GET    401   404   404   403   404   200   200
api-commitment-replacement        POST   401   404   404   403   404   409=  409=
api-growout-photo                 GET    401   404   404   200   404   200   200
"""

THINGS: dict = {
    "season-commitments": lambda w: [w.season.year],
    "season-ask": lambda w: [w.quiet_season.year],
    "api-commitment-replacement": lambda w: [w.offered.pk],
    "api-growout-photo": lambda w: [w.growout_photo.identifier],
    "commitment": lambda w: [w.offered.pk],
    "commitment-accept": lambda w: [w.offered.pk],
    "commitment-decline": lambda w: [w.offered.pk],
    "commitment-fail": lambda w: [w.promised.pk],
    "commitment-withdraw": lambda w: [w.offered.pk],
    "commitment-replace": lambda w: [w.offered.pk],
    "commitment-report": lambda w: [w.promised.pk, "sown"],
    "growout-photo": lambda w: [w.growout_photo.identifier],
    "api-commitment-detail": lambda w: [w.offered.pk],
    "api-commitment-guidance": lambda w: [w.offered.pk],
    "api-commitment-accept": lambda w: [w.offered.pk],
    "api-commitment-decline": lambda w: [w.offered.pk],
    "api-commitment-fail": lambda w: [w.promised.pk],
    "api-commitment-withdraw": lambda w: [w.offered.pk],
    "api-commitment-report": lambda w: [w.promised.pk],
}

QUERY: dict = {}

SENT: dict = {
    "season-ask POST": lambda w, me: {
        "variety": w.loan.packet.lot.variety.pk,
        "garden_offer": w.quiet_offer.gardens.get().pk,
        "technique": "distance",
    },
    "api-commitment-list POST": lambda w, me: {
        "season": w.quiet_season.year,
        "variety": w.loan.packet.lot.variety.pk,
        "garden": w.second_garden.pk,
        "technique": "distance",
    },
    "api-commitment-replacement POST": lambda w, me: {"garden": w.garden.pk},
    "commitment-fail POST": lambda w, me: {"cause": "hail", "note": "in one night"},
    "commitment-withdraw POST": lambda w, me: {"reason": "seed came from elsewhere"},
    "commitment-replace POST": lambda w, me: {"garden": w.garden.pk},
    "commitment-report POST": lambda w, me: {"on": "2026-10-09", "counted": 40},
    "api-commitment-fail POST": lambda w, me: {"cause": "hail"},
    "api-commitment-withdraw POST": lambda w, me: {"reason": "seed came from elsewhere"},
    "api-commitment-report POST": lambda w, me: {"kind": "sown", "on": "2026-10-09"},
}
