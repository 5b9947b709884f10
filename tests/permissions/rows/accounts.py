"""Members, their gardens and tokens, and the community."""

from __future__ import annotations

import uuid

TABLE = """
route                       method anon  appl  other owner desk  coord admin
account                     GET    in    200   200   200   200   200   200
account                     POST   in    302   302   302   302   302   302
account-download            GET    in    200   200   200   200   200   200
account-leave               GET    in    200   200   200   200   200   200
account-leave               POST   in    302   302   302   302   302   302
account-gardens             GET    in    404   200   200   200   200   200
account-garden-add          GET    in    404   200   200   200   200   200
account-garden-add          POST   in    404   302   302   302   302   302
account-garden-edit         GET    in    404   404   200   404   404   404
account-garden-edit         POST   in    404   404   302   404   404   404
account-garden-remove       GET    in    404   404   200   404   404   404
account-garden-remove       POST   in    404   404   302   404   404   404
account-tokens              GET    in    404   200   200   200   200   200
account-tokens              POST   in    404   200   200   200   200   200
account-token-revoke        POST   in    404   404   302   404   404   404
language                    POST   302=  302   302   302   302   302   302
invitation                  GET    200   200   200   200   200   200   200
invitation                  POST   302=  400   400   400   400   400   400
invitation#own              GET    200   200   200   200   200   200   200
invitation#own              POST   302=  302   400   400   400   400   400
invitation#unknown          GET    404   404   404   404   404   404   404
invitation#unknown          POST   404   404   404   404   404   404   404
members                     GET    in    404   404   404   404   200   200
member-invite               GET    in    404   404   404   404   200   200
member-invite               POST   in    404   404   404   404   302   302
member-invite#to-coordinate POST   in    404   404   404   404   400   302
invitation-withdraw         POST   in    404   404   404   404   302   302
member                      GET    in    404   404   404   404   200   200
member-approve              GET    in    404   404   404   404   200   200
member-approve              POST   in    404   404   404   404   302   302
member-decline              GET    in    404   404   404   404   200   200
member-decline              POST   in    404   404   404   404   302   302
member-role                 GET    in    404   404   404   404   404   200
member-role                 POST   in    404   404   404   404   404   302
member-end                  GET    in    404   404   404   404   200   200
member-end                  POST   in    404   404   404   404   302   302
member-end#coordinator      POST   in    404   404   404   404   403   302
community                   GET    in    404   404   404   404   404   200
community                   POST   in    404   404   404   404   404   302
garden-list                 GET    401   404   200   200   200   200   200
garden-list                 POST   401   404   201   201   201   201   201
garden-detail               GET    401   404   404   200   404   200   200
garden-detail               PATCH  401   404   404   200   404   403   403
garden-detail               DELETE 401   404   404   204   404   403   403
me                          GET    401   200   200   200   200   200   200
me                          PATCH  401   200   200   200   200   200   200
"""

THINGS = {
    "account-garden-edit": lambda w: [w.garden.pk],
    "account-garden-remove": lambda w: [w.second_garden.pk],
    "account-token-revoke": lambda w: [w.token.token_key],
    "invitation": lambda w: [w.invitation.key],
    "invitation#own": lambda w: [w.for_applicant.key],
    "invitation#unknown": lambda w: [uuid.UUID(int=7)],
    "invitation-withdraw": lambda w: [w.invitation.pk],
    "member": lambda w: [w.members["owner"].pk],
    "member-approve": lambda w: [w.hopeful.pk],
    "member-decline": lambda w: [w.hopeful.pk],
    "member-role": lambda w: [w.parting.pk],
    "member-end": lambda w: [w.parting.pk],
    "member-end#coordinator": lambda w: [w.second_coordinator.pk],
    "garden-detail": lambda w: [w.second_garden.pk],
}

GARDEN = {"name": "New plot", "placed": "grid"}
SENT = {
    "language POST": lambda w, me: {"language": "de", "next": "/"},
    "account POST": lambda w, me: {"display_name": f"new {me and me.pk}"},
    "account-leave POST": lambda w, me: {"sure": "on"},
    "account-garden-add POST": lambda w, me: GARDEN,
    "account-garden-edit POST": lambda w, me: GARDEN,
    "account-tokens POST": lambda w, me: {"name": "pantry sheet"},
    "member-invite POST": lambda w, me: {"email": "late@example.org", "role": "member"},
    "member-invite#to-coordinate POST": lambda w, me: {
        "email": "late@example.org",
        "role": "coordinator",
    },
    "member-approve POST": lambda w, me: {"note": "Welcome."},
    "member-decline POST": lambda w, me: {"note": "Not now."},
    "member-role POST": lambda w, me: {"role": "desk"},
    "member-end POST": lambda w, me: {"sure": "on"},
    "community POST": lambda w, me: {
        "name": "Beck Seeds",
        "time_zone": "UTC",
        "language": "en",
    },
    "garden-list POST": lambda w, me: GARDEN,
    "garden-detail PATCH": lambda w, me: {"name": "New name"},
    "me PATCH": lambda w, me: {"wants_news": True},
}
