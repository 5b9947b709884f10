"""What is at risk: read by members, the rules changed by coordinators."""

from __future__ import annotations

TABLE = """
route                             method anon  appl  other owner desk  coord admin
growout-risk                      GET    in    404   200   200   200   200   200
growout-risk-variety              GET    in    404   200   200   200   200   200
growout-elsewhere                 GET    in    404   200   200   200   200   200
growout-elsewhere                 POST   in    404   302   302   302   302   302
growout-rules                     GET    in    404   404   404   404   200   200
growout-rules                     POST   in    404   404   404   404   302   302
api-risk-list                     GET    401   404   200   200   200   200   200
api-risk-detail                   GET    401   404   200   200   200   200   200
api-elsewhere-list                GET    401   404   200   200   200   200   200
api-elsewhere-list                POST   401   404   201   201   201   201   201
api-elsewhere-detail              GET    401   404   200   200   200   200   200
"""

THINGS: dict = {
    "growout-risk-variety": lambda w: [w.variety.pk],
    "growout-elsewhere": lambda w: [w.variety.pk],
    "api-risk-detail": lambda w: [w.variety.pk],
    "api-elsewhere-detail": lambda w: [w.elsewhere.pk],
}

QUERY: dict = {}

SENT: dict = {
    "growout-elsewhere POST": lambda w, me: {"ease": "doubtful", "known_on": "2026-01-05"},
    "growout-rules POST": lambda w, me: {
        "horizon_years": "4",
        "yearly_hazard_percent": "2.5",
        "usual_success_percent": "60",
        "apart_m": "500",
        "answer_within_days": "10",
        "plan_seconds": "30",
    },
    "api-elsewhere-list POST": lambda w, me: {"variety": w.variety.pk, "ease": "easily"},
}
