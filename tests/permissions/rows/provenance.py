"""Chains are read like the catalogue."""

from __future__ import annotations

from tests.permissions.world import LAST_YEAR

TABLE = """
route                    method anon  appl  other owner desk  coord admin
api-lot-ancestors        GET    200*  200*  200   200   200   200   200
api-lot-descendants      GET    200*  200*  200   200   200   200   200
api-lot-chain-measures   GET    200*  200*  200   200   200   200   200
lot-chain-measures       GET    200*  200*  200   200   200   200   200
api-lot-purity           GET    200*  200*  200   200   200   200   200
lot-off-types            GET    200*  200*  200   200   200   200   200
lot-off-types            POST   in    404   302   302   302   302   302
off-type-lift            GET    in    404   404   404   404   200   200
off-type-lift            POST   in    404   404   404   404   302   302
off-type-clear           GET    in    404   404   404   404   200   200
off-type-clear           POST   in    404   404   404   404   302   302
api-off-type-report-list GET    200*  200*  200   200   200   200   200
api-off-type-report-list POST   401   404   201   201   201   201   201
api-off-type-report-detail GET  200*  200*  200   200   200   200   200
api-off-type-report-lift POST   401   404   404   404   404   200   200
api-off-type-report-clear POST  401   404   404   404   404   200   200
lot-chain                GET    200*  200*  200   200   200   200   200
lot-chain-picture        GET    200*  200*  200   200   200   200   200
"""


def _seen(w, me):
    return {"seen_on": LAST_YEAR.isoformat(), "what": "two plants with red stems"}


def _why(w, me):
    return {"reason": "sixty plants were true"}


THINGS = {
    "api-lot-purity": lambda w: [w.lot.number],
    "lot-off-types": lambda w: [w.lot.number],
    "off-type-lift": lambda w: [w.off_types.pk],
    "off-type-clear": lambda w: [w.off_types.pk, w.grown_of_doubtful.number],
    "api-off-type-report-detail": lambda w: [w.off_types.pk],
    "api-off-type-report-lift": lambda w: [w.off_types.pk],
    "api-off-type-report-clear": lambda w: [w.off_types.pk],
    "api-lot-ancestors": lambda w: [w.lot.number],
    "api-lot-descendants": lambda w: [w.lot.number],
    "api-lot-chain-measures": lambda w: [w.lot.number],
    "lot-chain-measures": lambda w: [w.lot.number],
    "lot-chain": lambda w: [w.lot.number],
    "lot-chain-picture": lambda w: [w.lot.number],
}

SENT = {
    "lot-off-types POST": _seen,
    "off-type-lift POST": _why,
    "off-type-clear POST": _why,
    "api-off-type-report-list POST": lambda w, me: _seen(w, me) | {"lot": w.lot.number},
    "api-off-type-report-lift POST": _why,
    "api-off-type-report-clear POST": lambda w, me: (
        _why(w, me) | {"lot": w.grown_of_doubtful.number}
    ),
}
