"""A household's own plans: nobody else's business, not even a coordinator's."""

from __future__ import annotations

TABLE = """
route                       method anon  appl  other owner desk  coord admin
own-garden                  GET    in    404   200   200   200   200   200
own-garden-new              GET    in    404   200   200   200   200   200
own-garden-new              POST   in    404   400   302   400   400   400
own-garden-plan             GET    in    404   404   200   404   404   404
own-garden-change           GET    in    404   404   200   404   404   404
own-garden-change           POST   in    404   404   302   404   404   404
own-garden-remove           POST   in    404   404   302   404   404   404
own-garden-add              GET    in    404   404   200   404   404   404
own-garden-add              POST   in    404   404   302   404   404   404
own-garden-rotation         GET    in    404   404   200   404   404   404
own-garden-calendar         GET    in    404   404   200   404   404   404
own-garden-sheet            GET    in    404   404   200   404   404   404
own-garden-choice           GET    in    404   404   200   404   404   404
own-garden-choice           POST   in    404   404   302   404   404   404
own-garden-drop             POST   in    404   404   302   404   404   404
api-saving-plan-list        GET    401   404   200   200   200   200   200
api-saving-plan-list        POST   401   404   400   201   400   400   400
api-saving-plan-detail      GET    401   404   404   200   404   404   404
api-saving-plan-detail      PATCH  401   404   404   200   404   404   404
api-saving-plan-detail      DELETE 401   404   404   204   404   404   404
api-saving-plan-add         POST   401   404   404   200   404   404   404
api-saving-plan-crossings   GET    401   404   404   200   404   404   404
api-saving-plan-rotation    GET    401   404   404   200   404   404   404
api-saving-plan-calendar    GET    401   404   404   200   404   404   404
api-saved-variety-list      GET    401   404   200   200   200   200   200
api-saved-variety-detail    GET    401   404   404   200   404   404   404
api-saved-variety-detail    PATCH  401   404   404   200   404   404   404
api-saved-variety-detail    DELETE 401   404   404   204   404   404   404
"""

THINGS = {
    **{
        name: lambda w: [w.saving_plan.pk]
        for name in (
            "own-garden-plan",
            "own-garden-change",
            "own-garden-remove",
            "own-garden-add",
            "own-garden-rotation",
            "own-garden-calendar",
            "own-garden-sheet",
            "api-saving-plan-detail",
            "api-saving-plan-add",
            "api-saving-plan-crossings",
            "api-saving-plan-rotation",
            "api-saving-plan-calendar",
        )
    },
    **{
        name: lambda w: [w.saved.pk]
        for name in ("own-garden-choice", "own-garden-drop", "api-saved-variety-detail")
    },
}

QUERY: dict = {"own-garden-new": lambda w: {"garden": w.garden.pk}}

_RULES = {"years_ahead": 5, "chance_percent": 60}

SENT: dict = {
    "own-garden-new POST": lambda w, me: (
        {"garden": w.garden.pk, "year": 2028, "plots": 3, "plot_m2": "4.5"} | _RULES
    ),
    "own-garden-change POST": lambda w, me: {"room_m2": 12} | _RULES,
    "own-garden-add POST": lambda w, me: {"varieties": w.loan.packet.lot.variety_id},
    "own-garden-choice POST": lambda w, me: {"technique": "bag", "plants": 12},
    "api-saving-plan-list POST": lambda w, me: {
        "garden": w.garden.pk,
        "year": 2028,
        "room_m2": "12",
    },
    "api-saving-plan-detail PATCH": lambda w, me: {"apart_m": 8},
    "api-saving-plan-add POST": lambda w, me: {"varieties": [w.loan.packet.lot.variety_id]},
    "api-saved-variety-detail PATCH": lambda w, me: {"technique": "cage"},
}
