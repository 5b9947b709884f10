"""Chains are read like the catalogue."""

from __future__ import annotations

TABLE = """
route                    method anon  appl  other owner desk  coord admin
api-lot-ancestors        GET    200*  200*  200   200   200   200   200
api-lot-descendants      GET    200*  200*  200   200   200   200   200
api-lot-chain-measures   GET    200*  200*  200   200   200   200   200
lot-chain-measures       GET    200*  200*  200   200   200   200   200
"""

THINGS = {
    "api-lot-ancestors": lambda w: [w.lot.number],
    "api-lot-descendants": lambda w: [w.lot.number],
    "api-lot-chain-measures": lambda w: [w.lot.number],
    "lot-chain-measures": lambda w: [w.lot.number],
}
