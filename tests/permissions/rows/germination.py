"""The bench: tests are read like the catalogue, made by the desk, planned by coordinators."""

from __future__ import annotations

TABLE = """
route                       method anon  appl  other owner desk  coord admin
bench                       GET    in    404   404   404   404   200   200
lot-viability               GET    200*  200*  200   200   200   200   200
bench-calendar              GET    in    404   404   404   404   200   200
living-seed                 GET    200*  200*  200   200   200   200   200
bench-plan                  GET    in    404   404   404   404   200   200
bench-plan                  POST   in    404   404   404   404   302   302
bench-rules                 GET    in    404   404   404   404   200   200
bench-rules                 POST   in    404   404   404   404   302   302
bench-recompute             GET    in    404   404   404   404   200   200
bench-recompute             POST   in    404   404   404   404   302   302
window-sill                 GET    in    404   404   404   200   200   200
test-start                  GET    in    404   404   404   200   200   200
test-start                  POST   in    404   404   404   302   302   302
test-start#plan             POST   in    404   404   404   302   302   302
test-record                 GET    in    404   404   404   200   200   200
test-record                 POST   in    404   404   404   302   302   302
sowing-add                  GET    in    404   404   404   200   200   200
sowing-add                  POST   in    404   404   404   302   302   302
sowing-drop                 GET    in    404   404   404   200   200   200
sowing-drop                 POST   in    404   404   404   302   302   302
lot-shelf                   GET    in    404   404   404   404   200   200
lot-shelf                   POST   in    404   404   404   404   302   302
test                        GET    200*  200*  200   200   200   200   200
test-begin                  GET    in    404   404   404   200   200   200
test-begin                  POST   in    404   404   404   302   302   302
test-count                  GET    in    404   404   404   200   200   200
test-dish                   POST   in    404   404   404   302   302   302
test-finish                 GET    in    404   404   404   200   200   200
test-finish                 POST   in    404   404   404   302   302   302
test-sow-more               GET    in    404   404   404   200   200   200
test-sow-more               POST   in    404   404   404   302   302   302
test-close                  GET    in    404   404   404   200   200   200
test-close                  POST   in    404   404   404   302   302   302
test-amend                  GET    in    404   404   404   200   200   200
test-amend                  POST   in    404   404   404   302   302   302
test-void                   GET    in    404   404   404   200   200   200
test-void                   POST   in    404   404   404   302   302   302
api-germination-test-list   GET    200*  200*  200   200   200   200   200
api-germination-test-list   POST   401   404   404   404   201   201   201
api-germination-test-detail GET    200*  200*  200   200   200   200   200
api-germination-test-begin  POST   401  404   404   404   200   200   200
api-germination-test-counts POST   401  404   404   404   200   200   200
api-germination-test-finish-group POST 401 404 404  404   200   200   200
api-germination-test-sow-more POST 401  404   404   404   200   200   200
api-germination-test-amend  POST   401  404   404   404   200   200   200
api-germination-test-close  POST   401   404   404   404   200   200   200
api-germination-test-void   POST   401   404   404   404   200   200   200
api-viability               GET    200*  200*  200   200   200   200   200
api-bench-list              GET    401   404   404   404   404   200   200
api-planned-sowing-list     GET    401   404   404   404   200   200   200
api-planned-sowing-list     POST   401   404   404   404   201   201   201
api-planned-sowing-detail   GET    401   404   404   404   200   200   200
api-planned-sowing-detail   DELETE 401   404   404   404   204   204   204
api-shelf-decision-list     GET    401   404   404   404   404   200   200
api-shelf-decision-list     POST   401   404   404   404   404   201   201
"""

THINGS = {
    "lot-viability": lambda w: [w.lot.number],
    "test-start": lambda w: [w.lot.number],
    "test-record": lambda w: [w.lot.number],
    "sowing-add": lambda w: [w.lot.number],
    "sowing-drop": lambda w: [w.sowing.pk],
    "lot-shelf": lambda w: [w.poor.number],
    "test": lambda w: [w.closed.pk],
    "test-begin": lambda w: [w.planned.pk],
    "test-count": lambda w: [w.running.pk],
    "test-dish": lambda w: [w.running.pk, 1],
    "test-finish": lambda w: [w.group_open.pk],
    "test-sow-more": lambda w: [w.asks_for_more.pk],
    "test-close": lambda w: [w.running.pk],
    "test-amend": lambda w: [w.closed.pk],
    "test-void": lambda w: [w.closed.pk],
    "api-germination-test-detail": lambda w: [w.closed.pk],
    "api-viability": lambda w: [w.kept_at_home.number],
    "api-planned-sowing-detail": lambda w: [w.sowing.pk],
    "api-germination-test-begin": lambda w: [w.planned.pk],
    "api-germination-test-counts": lambda w: [w.running.pk],
    "api-germination-test-finish-group": lambda w: [w.group_open.pk],
    "api-germination-test-sow-more": lambda w: [w.asks_for_more.pk],
    "api-germination-test-amend": lambda w: [w.closed.pk],
    "api-germination-test-close": lambda w: [w.running.pk],
    "api-germination-test-void": lambda w: [w.closed.pk],
}

QUERY = {"bench-plan": lambda w: {"lot": w.kept_at_home.number}}

DAYS = {"started_on": "2026-09-20", "closed_on": "2026-10-01"}
SHOWN = {"dish-TOTAL_FORMS": 1, "dish-INITIAL_FORMS": 0}
BOTH = {"dish-TOTAL_FORMS": 2, "dish-INITIAL_FORMS": 0}
SENT = {
    "bench-plan POST": lambda w, me: {"lot": w.kept_at_home.number, "on": "2026-10-20"},
    "bench-rules POST": lambda w, me: {
        "standard_percent": 80,
        "first_test_within_days": 60,
        "chance_percent": 85,
        "test_share_percent": 5,
        "risk_good_percent": 15,
        "risk_poor_percent": 20,
        "width_points": 20,
        "group_seeds": 12,
    },
    "test-start POST": lambda w, me: {"replicates": 2, "seeds_each": 25, "on": "2026-10-10"},
    "test-start#plan POST": lambda w, me: {
        "replicates": 2,
        "seeds_each": 25,
        "on": "2026-11-01",
        "how": "plan",
    },
    "sowing-add POST": lambda w, me: {"on": "2027-04-20", "what_for": "spring packets"},
    "lot-shelf POST": lambda w, me: {"decision": "withhold", "reason": "to be regrown"},
    "test-record POST": lambda w, me: {
        **DAYS,
        **SHOWN,
        "dish-0-seeds": 50,
        "dish-0-normal": 47,
    },
    "test-begin POST": lambda w, me: {"on": "2026-10-10"},
    "test-dish POST": lambda w, me: {"on": "2026-10-10", "normal": 20},
    "test-finish POST": lambda w, me: {"on": "2026-10-10", "hard": 0, "fresh": 0},
    "test-sow-more POST": lambda w, me: {"on": "2026-10-10"},
    "test-amend POST": lambda w, me: {
        **SHOWN,
        "dish-0-normal": 45,
        "started_on": "2026-04-15",
        "closed_on": "2026-04-24",
        "reason": "one was counted twice",
    },
    "test-close POST": lambda w, me: {
        **BOTH,
        "dish-0-normal": 24,
        "dish-1-normal": 23,
        "on": "2026-04-24",
    },
    "test-void POST": lambda w, me: {"reason": "the heating failed"},
    "api-germination-test-list POST": lambda w, me: {
        **DAYS,
        "lot": w.lot.number,
        "replicates": [{"seeds": 50, "normal": 47}],
    },
    "api-planned-sowing-list POST": lambda w, me: {
        "lot": w.lot.number,
        "on": "2027-05-01",
        "what_for": "the field behind the mill",
    },
    "api-shelf-decision-list POST": lambda w, me: {
        "lot": w.poor.number,
        "decision": "withhold",
        "reason": "too little of it lives",
    },
    "api-germination-test-counts POST": lambda w, me: {"dish": 1, "normal": 20},
    "api-germination-test-amend POST": lambda w, me: {
        "reason": "one was counted twice",
        "dishes": [{"number": 1, "normal": 45}],
    },
    "api-germination-test-close POST": lambda w, me: {
        "on": "2026-04-24",
        "replicates": [{"normal": 24}, {"normal": 23}],
    },
    "api-germination-test-void POST": lambda w, me: {"reason": "the heating failed"},
}
