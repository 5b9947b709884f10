"""Setting the library up is the administrator's; the welcome is each member's own."""

from __future__ import annotations

TABLE = """
route                 method anon  appl  other owner desk  coord admin
first-day             GET    in    404   404   404   404   404   200
first-day-community   GET    in    404   404   404   404   404   200
first-day-community   POST   in    404   404   404   404   404   302
first-day-rules       GET    in    404   404   404   404   404   200
first-day-rules       POST   in    404   404   404   404   404   302
first-day-places      GET    in    404   404   404   404   404   200
first-day-places      POST   in    404   404   404   404   404   302
first-day-coordinator GET    in    404   404   404   404   404   200
first-day-coordinator POST   in    404   404   404   404   404   302
first-day-mail        GET    in    404   404   404   404   404   200
first-day-mail        POST   in    404   404   404   404   404   200=
first-day-later       POST   in    404   404   404   404   404   302
first-day-rest        POST   in    404   404   404   404   404   302
welcome-away          POST   in    404   302   302   302   302   302
"""

THINGS = {"first-day-later": lambda w: ["mail"]}

SENT = {
    "first-day-community POST": lambda w, me: {
        "name": "Tarn Hollow Seed Library",
        "time_zone": "UTC",
        "language": "en",
    },
    "first-day-rules POST": lambda w, me: {
        "max_open_loans": 7,
        "max_packets_of_variety": 2,
        "grace_days": 30,
    },
    "first-day-places POST": lambda w, me: {"name": "Cupboard", "kind": "cupboard"},
    "first-day-coordinator POST": lambda w, me: {
        "email": "dove@example.org",
        "role": "coordinator",
    },
}
