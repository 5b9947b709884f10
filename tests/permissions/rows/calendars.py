"""A member's private calendar. Its file asks for no signing in: the address is the secret."""

from __future__ import annotations

TABLE = """
route                    method anon  appl  other owner desk  coord admin
account-calendar         GET    in    404   200   200   200   200   200
account-calendar         POST   in    404   200   200   200   200   200
account-calendar-choices POST   in    404   400   302   400   400   400
account-calendar-revoke  POST   in    404   302=  302   302=  302=  302=
calendar-file            GET    200   200   200   200   200   200   200
"""

THINGS = {
    "calendar-file": lambda w: [w.calendar_secret],
}
SENT = {"account-calendar-choices POST": lambda w, me: {"style": "tasks"}}
