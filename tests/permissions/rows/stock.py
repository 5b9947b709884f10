"""Lots, packets, storage and stock-taking: read like the catalogue, handled by the desk."""

from __future__ import annotations

TABLE = """
route                    method anon  appl  other owner desk  coord admin
lot                      GET    200*  200*  200   200   200   200   200
lot#kept-at-home         GET    200*  200*  200   200   200   200   200
lot-pack                 GET    in    404   404   404   200   200   200
lot-pack                 POST   in    404   404   404   302   302   302
lot-discard              GET    in    404   404   404   200   200   200
lot-discard              POST   in    404   404   404   302   302   302
lot-discard-rest         GET    in    404   404   404   200   200   200
lot-discard-rest         POST   in    404   404   404   302   302   302
lot-give                 GET    in    404   404   404   200   200   200
lot-give                 POST   in    404   404   404   302   302   302
lot-correct              GET    in    404   404   404   200   200   200
lot-correct              POST   in    404   404   404   302   302   302
lot-move                 GET    in    404   404   404   200   200   200
lot-move                 POST   in    404   404   404   302   302   302
lot-custodian            GET    in    404   404   404   200   200   200
lot-custodian            POST   in    404   404   404   302   302   302
lot-amend                GET    in    404   404   404   200   200   200
lot-amend                POST   in    404   404   404   302   302   302
lot-withhold             GET    in    404   404   404   200   200   200
lot-withhold             POST   in    404   404   404   302   302   302
lot-release              GET    in    404   404   404   200   200   200
lot-release              POST   in    404   404   404   302   302   302
lot-labels               GET    in    404   404   404   200   200   200
lot-bulk                 GET    in    404   404   404   200   200   200
lot-bulk                 POST   in    404   404   404   302   302   302
movement-mend            GET    in    404   404   404   200   200   200
movement-mend            POST   in    404   404   404   302   302   302
packet                   GET    200*  200*  200   200   200   200   200
packet-qr                GET    200*  200*  200   200   200   200   200
packet-unpack            GET    in    404   404   404   200   200   200
packet-unpack            POST   in    404   404   404   302   302   302
packet-discard           GET    in    404   404   404   200   200   200
packet-discard           POST   in    404   404   404   302   302   302
packet-give              GET    in    404   404   404   200   200   200
packet-give              POST   in    404   404   404   302   302   302
packet-move              GET    in    404   404   404   200   200   200
packet-move              POST   in    404   404   404   302   302   302
scan                     GET    200*  200*  200   200   200   200   200
scan#a-lot               GET    302*  302*  302   302   302   302   302
scan#a-packet            GET    302*  302*  302   302   302   302   302
weighing                 GET    in    404   404   404   200   200   200
storage                  GET    in    404   404   404   200   200   200
storage-add              GET    in    404   404   404   200   200   200
storage-add              POST   in    404   404   404   302   302   302
storage-place            GET    in    404   404   404   200   200   200
storage-edit             GET    in    404   404   404   200   200   200
storage-edit             POST   in    404   404   404   302   302   302
storage-remove           GET    in    404   404   404   200   200   200
storage-remove           POST   in    404   404   404   302   302   302
stock-takes              GET    in    404   404   404   200   200   200
stock-takes              POST   in    404   404   404   302   302   302
stock-take               GET    in    404   404   404   200   200   200
stock-count              GET    in    404   404   404   200   200   200
stock-count              POST   in    404   404   404   302   302   302
stock-take-close         GET    in    404   404   404   200   200   200
stock-take-close         POST   in    404   404   404   302   302   302
api-lot-list             GET    200*  200*  200   200   200   200   200
api-lot-detail           GET    200*  200*  200   200   200   200   200
api-lot-amend            POST   401   404   404   404   200   200   200
api-lot-discard          POST   401   404   404   404   200   200   200
api-lot-move             POST   401   404   404   404   200   200   200
api-lot-pack             POST   401   404   404   404   201   201   201
api-packet-list          GET    200*  200*  200   200   200   200   200
api-packet-detail        GET    200*  200*  200   200   200   200   200
api-storage-place-list   GET    401   404   404   404   200   200   200
api-storage-place-detail GET    401   404   404   404   200   200   200
"""

THINGS = {
    "lot": lambda w: [w.lot.number],
    "lot#kept-at-home": lambda w: [w.kept_at_home.number],
    "lot-pack": lambda w: [w.lot.number],
    "lot-discard": lambda w: [w.lot.number],
    "lot-discard-rest": lambda w: [w.lot.number],
    "lot-give": lambda w: [w.lot.number],
    "lot-correct": lambda w: [w.lot.number],
    "lot-move": lambda w: [w.lot.number],
    "lot-custodian": lambda w: [w.lot.number],
    "lot-amend": lambda w: [w.lot.number],
    "lot-withhold": lambda w: [w.lot.number],
    "lot-release": lambda w: [w.withheld.number],
    "lot-labels": lambda w: [w.lot.number],
    "lot-bulk": lambda w: [w.variety.pk],
    "movement-mend": lambda w: [w.movement.pk],
    "packet": lambda w: [w.packet.code],
    "packet-qr": lambda w: [w.packet.code],
    "packet-unpack": lambda w: [w.packet.code],
    "packet-discard": lambda w: [w.packet.code],
    "packet-give": lambda w: [w.packet.code],
    "packet-move": lambda w: [w.packet.code],
    "storage-place": lambda w: [w.place.pk],
    "storage-edit": lambda w: [w.place.pk],
    "storage-remove": lambda w: [w.empty_place.pk],
    "stock-take": lambda w: [w.stock_take.pk],
    "stock-count": lambda w: [w.stock_take.pk, w.lot.number],
    "stock-take-close": lambda w: [w.stock_take.pk],
    "api-lot-detail": lambda w: [w.lot.number],
    "api-lot-amend": lambda w: [w.lot.number],
    "api-lot-discard": lambda w: [w.lot.number],
    "api-lot-move": lambda w: [w.lot.number],
    "api-lot-pack": lambda w: [w.lot.number],
    "api-packet-detail": lambda w: [w.packet.code],
    "api-storage-place-detail": lambda w: [w.place.pk],
}

QUERY = {
    "lot-amend": lambda w: {"field": "origin_region"},
    "scan#a-lot": lambda w: {"code": w.lot.number},
    "scan#a-packet": lambda w: {"code": w.packet.code},
}

ON = "2026-10-10"
REASON = {"reason": "damp", "on": ON}
AMEND = {"value": "the upper valley", "reason": "misread"}
SENT = {
    "lot-pack POST": lambda w, me: {"packets": 2, "seeds_each": 20, "on": ON},
    "lot-discard POST": lambda w, me: REASON | {"seeds": 5},
    "lot-discard-rest POST": lambda w, me: REASON,
    "lot-give POST": lambda w, me: REASON | {"seeds": 5},
    "lot-correct POST": lambda w, me: REASON | {"loose": 7},
    "lot-move POST": lambda w, me: {"storage_place": w.empty_place.pk, "on": ON},
    "lot-custodian POST": lambda w, me: {"custodian": w.members["owner"].pk, "on": ON},
    "lot-amend POST": lambda w, me: AMEND,
    "lot-withhold POST": lambda w, me: {"reason": "looks crossed"},
    "lot-release POST": lambda w, me: {"reason": "true after all"},
    "lot-bulk POST": lambda w, me: {
        f"from_{w.lot.pk}": 100,
        f"from_{w.second_lot.pk}": 100,
        "on": ON,
    },
    "movement-mend POST": lambda w, me: REASON,
    "packet-unpack POST": lambda w, me: REASON,
    "packet-discard POST": lambda w, me: REASON,
    "packet-give POST": lambda w, me: REASON,
    "packet-move POST": lambda w, me: {"storage_place": w.empty_place.pk},
    "storage-add POST": lambda w, me: {"name": "Shed", "kind": "room"},
    "storage-edit POST": lambda w, me: {"name": "Shed", "kind": "room"},
    "stock-takes POST": lambda w, me: {"note": "autumn"},
    "stock-count POST": lambda w, me: {"loose": 100, "here": w.packet.code},
    "api-lot-amend POST": lambda w, me: AMEND | {"field": "origin_region"},
    "api-lot-discard POST": lambda w, me: {"seeds": 5, "reason": "damp"},
    "api-lot-move POST": lambda w, me: {"storage_place": w.empty_place.pk},
    "api-lot-pack POST": lambda w, me: {"packets": 2, "seeds_each": 20},
}
