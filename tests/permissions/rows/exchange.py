"""Chains in open formats: carried away, and brought in."""

from __future__ import annotations

from tests.permissions.world import chain_file

TABLE = """
route                       method anon  appl  other owner desk  coord admin
chain-imports               GET    in    404   404   404   200   200   200
chain-imports               POST   in    404   404   404   302   302   302
chain-import                GET    in    404   404   404   200   200   200
chain-import-receive        GET    in    404   404   404   200   200   200
chain-import-receive        POST   in    404   404   404   302   302   302
chain-import-drop           POST   in    404   404   404   302   302   302
api-chain-import-list       GET    401   404   404   404   200   200   200
api-chain-import-list       POST   401   404   404   404   201   201   201
api-chain-import-detail     GET    401   404   404   404   200   200   200
api-chain-import-receive    POST   401   404   404   404   201   201   201
api-chain-import-drop       POST   401   404   404   404   200   200   200
library-data                GET    in    404   404   404   404   200   200
library-data-file           GET    in    404   404   404   404   200   200
own-data-file               GET    in    200   200   200   200   200   200
api-library-data            GET    401   404   404   404   404   200   200
api-lot-prov                GET    200*  200*  200   200   200   200   200
api-mcpd                    GET    200*  200*  200   200   200   200   200
"""

THINGS = {
    "chain-import": lambda w: [w.chain_import.pk],
    "chain-import-receive": lambda w: [w.chain_import.pk],
    "chain-import-drop": lambda w: [w.chain_import.pk],
    "api-chain-import-detail": lambda w: [w.chain_import.pk],
    "api-chain-import-receive": lambda w: [w.chain_import.pk],
    "api-chain-import-drop": lambda w: [w.chain_import.pk],
    "api-lot-prov": lambda w: [w.lot.number],
}

SENT = {
    "chain-imports POST": lambda w, me: {"file": chain_file(w.variety, "another")},
    "chain-import-receive POST": lambda w, me: {"seeds": 40},
    "api-chain-import-list POST": lambda w, me: {
        "content": chain_file(w.variety, "another").read().decode()
    },
    "api-chain-import-receive POST": lambda w, me: {"seeds": 40},
}
