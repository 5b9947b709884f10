"""Loans, returns and deposits: one's own, or at the desk everybody's."""

from __future__ import annotations

TABLE = """
route                             method anon  appl  other owner desk  coord admin
desk                              GET    in    404   404   404   200   200   200
desk#a-packet-scanned             GET    in    404   404   404   302   302   302
desk-members                      GET    in    404   404   404   200   200   200
deposit-at-desk                   GET    in    404   404   404   200   200   200
deposit-at-desk                   POST   in    404   404   404   302   302   302
return-at-desk                    GET    in    404   404   404   200   200   200
return-at-desk                    POST   in    404   404   404   302   302   302
table                             GET    in    404   404   404   200   200   200
table                             POST   in    404   404   404   302   302   302
table-seed                        GET    in    404   404   404   302   302   302
table-worker                      GET    200   200   200   200   200   200   200
loan-new                          GET    in    404   200   200   200   200   200
loan-new                          POST   in    404   302   302   302   302   302
loan                              GET    in    404   404   200   200   200   200
loan-close                        GET    in    404   404   200   200   200   200
loan-close                        POST   in    404   404   302   302   302   302
loan-extend                       GET    in    404   404   404   200   200   200
loan-extend                       POST   in    404   404   404   302   302   302
loan-garden                       GET    in    404   404   200   404   200   200
loan-garden                       POST   in    404   404   302   404   302   302
loan-hand-over                    POST   in    404   404   404   302   302   302
loan-take-back                    POST   in    404   404   404   302   302   302
loan-cancel                       POST   in    404   404   302   302   302   302
return-new                        GET    in    404   404   200   404   404   404
return-new                        POST   in    404   404   302   404   404   404
return                            GET    in    404   404   200   200   200   200
return-receive                    GET    in    404   404   404   200   200   200
return-receive                    POST   in    404   404   404   302   302   302
return-withdraw                   POST   in    404   404   302   302   302   302
deposit-new                       GET    in    404   200   200   200   200   200
deposit-new                       POST   in    404   302   302   302   302   302
deposit-names                     GET    in    404   200   200   200   200   200
deposit                           GET    in    404   404   200   200   200   200
deposit-receive                   GET    in    404   404   404   200   200   200
deposit-receive                   POST   in    404   404   404   302   302   302
deposit-decline                   GET    in    404   404   404   200   200   200
deposit-decline                   POST   in    404   404   404   302   302   302
deposit-withdraw                  POST   in    404   404   302   302   302   302
my-seed                           GET    in    404   200   200   200   200   200
exchange-rules                    GET    200   200   200   200   200   200   200
lending-rules                     GET    in    404   404   404   404   200   200
lending-rules                     POST   in    404   404   404   404   302   302
api-loan-list                     GET    401   404   200   200   200   200   200
api-loan-list                     POST   401   404   201   201   201   201   201
api-loan-list#another-day         POST   401   404   403   403   201   201   201
api-loan-list#to-the-owner        POST   401   404   403   201   201   201   201
api-loan-guidance                 GET    401   404   200   200   200   200   200
api-loan-guidance#in-their-garden GET    401   404   400   200   400   400   400
api-loan-detail                   GET    401   404   404   200   200   200   200
api-loan-cancel                   POST   401   404   404   200   200   200   200
api-loan-close                    POST   401   404   404   200   200   200   200
api-loan-extend                   POST   401   404   404   403   200   200   200
api-loan-garden                   POST   401   404   404   200   400   200   200
api-loan-hand-over                POST   401   404   404   403   200   200   200
api-loan-take-back                POST   401   404   404   403   200   200   200
api-deposit-list                  GET    401   404   200   200   200   200   200
api-deposit-list                  POST   401   404   201   201   201   201   201
api-deposit-list#from-the-owner   POST   401   404   403   201   201   201   201
api-deposit-list#received-at-once POST   401   404   403   403   201   201   201
api-deposit-detail                GET    401   404   404   200   200   200   200
api-deposit-decline               POST   401   404   404   403   200   200   200
api-deposit-receive               POST   401   404   404   403   201   201   201
api-deposit-withdraw              POST   401   404   404   200   200   200   200
api-return-list                   GET    401   404   200   200   200   200   200
api-return-list                   POST   401   404   400   201   201   201   201
api-return-list#received-at-once  POST   401   404   400   403   201   201   201
api-return-detail                 GET    401   404   404   200   200   200   200
api-return-receive                POST   401   404   404   403   201   201   201
api-return-withdraw               POST   401   404   404   200   200   200   200
api-table-list                    GET    401   404   404   404   200   200   200
api-table-lend                    POST   401   404   404   404   201   201   201
api-table-take-back               POST   401   404   404   404   200   200   200
"""

THINGS = {
    "loan": lambda w: [w.loan.pk],
    "loan-close": lambda w: [w.loan.pk],
    "loan-extend": lambda w: [w.loan.pk],
    "loan-garden": lambda w: [w.loan.pk],
    "loan-hand-over": lambda w: [w.chosen.pk],
    "loan-take-back": lambda w: [w.loan.pk],
    "loan-cancel": lambda w: [w.chosen.pk],
    "return": lambda w: [w.announced.pk],
    "return-receive": lambda w: [w.announced.pk],
    "return-withdraw": lambda w: [w.announced.pk],
    "deposit": lambda w: [w.deposit.pk],
    "deposit-receive": lambda w: [w.deposit.pk],
    "deposit-decline": lambda w: [w.deposit.pk],
    "deposit-withdraw": lambda w: [w.deposit.pk],
    "api-loan-detail": lambda w: [w.loan.pk],
    "api-loan-cancel": lambda w: [w.chosen.pk],
    "api-loan-close": lambda w: [w.loan.pk],
    "api-loan-extend": lambda w: [w.loan.pk],
    "api-loan-garden": lambda w: [w.loan.pk],
    "api-loan-hand-over": lambda w: [w.chosen.pk],
    "api-loan-take-back": lambda w: [w.loan.pk],
    "api-deposit-detail": lambda w: [w.deposit.pk],
    "api-deposit-decline": lambda w: [w.deposit.pk],
    "api-deposit-receive": lambda w: [w.deposit.pk],
    "api-deposit-withdraw": lambda w: [w.deposit.pk],
    "api-return-detail": lambda w: [w.announced.pk],
    "api-return-receive": lambda w: [w.announced.pk],
    "api-return-withdraw": lambda w: [w.announced.pk],
}

QUERY = {
    # "member" is for the desk, which lends to whom it names; a member borrows for themselves.
    "loan-new": lambda w: {"packet": w.packet.code, "member": w.members["owner"].pk},
    "return-new": lambda w: {"loan": w.loan.pk},
    "return-at-desk": lambda w: {"loan": w.loan.pk},
    "desk#a-packet-scanned": lambda w: {"code": w.packet.code},
    "table-seed": lambda w: {"code": w.loan.packet.code},
    "desk-members": lambda w: {"who": "wren"},
    "deposit-names": lambda w: {"name": "crag"},
    "api-loan-guidance": lambda w: {"packet": w.packet.code},
    "api-loan-guidance#in-their-garden": lambda w: {
        "packet": w.packet.code,
        "garden": w.garden.pk,
    },
}

SEEDS = {"seeds": 90}


def _offer(crop) -> dict:
    return {"crop": crop, "seeds": 300}


def _brought(w) -> dict:
    return _offer(w.crop.pk) | {"name": "Crag Runner"}


def _grown(w) -> dict:
    return {"loans": [w.loan.pk], "harvest_year": 2026, "seeds": 90}


SENT = {
    "table POST": lambda w, me: {"do": "lend", "who": "wren", "code": w.packet.code},
    "api-table-lend POST": lambda w, me: {"packet": w.packet.code, "borrower": "wren"},
    "api-table-take-back POST": lambda w, me: {"packet": w.loan.packet.code},
    "deposit-at-desk POST": lambda w, me: _brought(w),
    "return-at-desk POST": lambda w, me: _grown(w),
    "loan-close POST": lambda w, me: {"outcome": "crop_failed", "note": "slugs"},
    "loan-extend POST": lambda w, me: {"due_on": "2027-10-10", "reason": "a late year"},
    "loan-garden POST": lambda w, me: {"garden": w.second_garden.pk},
    "return-new POST": lambda w, me: _grown(w),
    "return-receive POST": lambda w, me: SEEDS,
    "deposit-new POST": lambda w, me: _brought(w) | {"notice_read": "on"},
    "deposit-receive POST": lambda w, me: _brought(w),
    "deposit-decline POST": lambda w, me: {"reason": "we have much of it"},
    "lending-rules POST": lambda w, me: {
        "max_open_loans": 5,
        "max_packets_of_variety": 1,
        "grace_days": 30,
        "reserve_sowings": 1,
        "expected_losses_percent": 20,
    },
    "api-loan-list POST": lambda w, me: {"packet": w.packet.code},
    "api-loan-list#to-the-owner POST": lambda w, me: {
        "packet": w.packet.code,
        "borrower": "wren",
    },
    "api-loan-list#another-day POST": lambda w, me: {
        "packet": w.packet.code,
        "on": "2026-10-09",
    },
    "api-loan-close POST": lambda w, me: {"outcome": "crop_failed", "note": "slugs"},
    "api-loan-extend POST": lambda w, me: {"due_on": "2027-10-10", "reason": "a late year"},
    "api-loan-garden POST": lambda w, me: {"garden": w.second_garden.pk},
    "api-deposit-list POST": lambda w, me: {"variety": w.variety.pk, "seeds": 300},
    "api-deposit-list#received-at-once POST": lambda w, me: {
        "variety": w.variety.pk,
        "receive": {"seeds": 300},
    },
    "api-deposit-list#from-the-owner POST": lambda w, me: {
        "variety": w.variety.pk,
        "seeds": 300,
        "depositor": "wren",
    },
    "api-deposit-decline POST": lambda w, me: {"reason": "we have much of it"},
    "api-deposit-receive POST": lambda w, me: {"seeds": 300},
    "api-return-list POST": lambda w, me: _grown(w),
    "api-return-list#received-at-once POST": lambda w, me: {
        **_grown(w),
        "receive": {"seeds": 90},
    },
    "api-return-receive POST": lambda w, me: SEEDS,
}
