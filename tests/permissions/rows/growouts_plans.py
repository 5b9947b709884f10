"""Plans: for coordinators."""

from __future__ import annotations

TABLE = """
route                             method anon  appl  other owner desk  coord admin
growout-plans                     GET    in    404   404   404   404   200   200
growout-plans                     POST   in    404   404   404   404   302   302
growout-pins                      GET    in    404   404   404   404   200   200
growout-pins                      POST   in    404   404   404   404   302   302
growout-unpin                     POST   in    404   404   404   404   302   302
growout-plan                      GET    in    404   404   404   404   200   200
growout-plan-stop                 POST   in    404   404   404   404   302=  302=
growout-plan-pin                  POST   in    404   404   404   404   302   302
growout-plan-offers               POST   in    404   404   404   404   302=  302=
api-plan-list                     GET    401   404   404   404   404   200   200
api-plan-list                     POST   401   404   404   404   404   201   201
api-plan-detail                   GET    401   404   404   404   404   200   200
api-plan-stop                     POST   401   404   404   404   404   409   409
api-plan-offers                   POST   401   404   404   404   404   200=  200=
api-pin-list                      GET    401   404   404   404   404   200   200
api-pin-list                      POST   401   404   404   404   404   201   201
api-pin-detail                    GET    401   404   404   404   404   200   200
api-pin-detail                    DELETE 401   404   404   404   404   204   204
"""

THINGS: dict = {
    "growout-plans": lambda w: [w.season.year],
    "growout-pins": lambda w: [w.season.year],
    "growout-unpin": lambda w: [w.pin.pk],
    "growout-plan": lambda w: [w.plan.pk],
    "growout-plan-stop": lambda w: [w.plan.pk],
    "growout-plan-pin": lambda w: [w.plan.pk],
    "growout-plan-offers": lambda w: [w.plan.pk],
    "api-plan-detail": lambda w: [w.plan.pk],
    "api-plan-stop": lambda w: [w.plan.pk],
    "api-plan-offers": lambda w: [w.plan.pk],
    "api-pin-detail": lambda w: [w.pin.pk],
}

QUERY: dict = {}

SENT: dict = {
    "growout-pins POST": lambda w, me: {
        "variety": w.variety.pk,
        "garden": w.garden.pk,
        "kind": "never",
    },
    "growout-plan-pin POST": lambda w, me: {"never": w.pair.pk},
    "growout-plan-offers POST": lambda w, me: {"pair": w.pair.pk},
    "api-plan-list POST": lambda w, me: {"season": w.season.year, "seconds": 5},
    "api-plan-offers POST": lambda w, me: {"pairs": [w.pair.pk]},
    "api-pin-list POST": lambda w, me: {
        "season": w.season.year,
        "variety": w.variety.pk,
        "garden": w.garden.pk,
        "kind": "never",
    },
}
