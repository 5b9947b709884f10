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
own-garden-put-back         POST   in    404   302=  302=  302=  302=  302=
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
kitchens                    GET    in    404   200   200   200   200   200
kitchen-new                 GET    in    404   200   200   200   200   200
kitchen-new                 POST   in    404   400   302   400   400   400
kitchen-plan                GET    in    404   404   200   404   404   404
kitchen-change              GET    in    404   404   200   404   404   404
kitchen-change              POST   in    404   404   302   404   404   404
kitchen-remove              POST   in    404   404   302   404   404   404
kitchen-add                 GET    in    404   404   200   404   404   404
kitchen-add                 POST   in    404   404   302   404   404   404
kitchen-take-over           GET    in    404   404   200   404   404   404
kitchen-take-over           POST   in    404   404   302   404   404   404
kitchen-dish                GET    in    404   404   200   404   404   404
kitchen-dish                POST   in    404   404   302   404   404   404
kitchen-dish-remove         POST   in    404   404   302   404   404   404
api-kitchen-plan-list       GET    401   404   200   200   200   200   200
api-kitchen-plan-list       POST   401   404   400   201   400   400   400
api-kitchen-plan-detail     GET    401   404   404   200   404   404   404
api-kitchen-plan-detail     PATCH  401   404   404   200   404   404   404
api-kitchen-plan-detail     DELETE 401   404   404   204   404   404   404
api-kitchen-plan-reckoning  GET    401   404   404   200   404   404   404
api-kitchen-plan-take-over  POST   401   404   404   200   404   404   404
api-dish-list               GET    401   404   200   200   200   200   200
api-dish-list               POST   401   404   400   201   400   400   400
api-dish-detail             GET    401   404   404   200   404   404   404
api-dish-detail             PATCH  401   404   404   200   404   404   404
api-dish-detail             DELETE 401   404   404   204   404   404   404
api-kitchen-tables          GET    401   404   200   200   200   200   200
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
    **{
        name: lambda w: [w.kitchen.pk]
        for name in (
            "kitchen-plan",
            "kitchen-change",
            "kitchen-remove",
            "kitchen-add",
            "kitchen-take-over",
            "api-kitchen-plan-detail",
            "api-kitchen-plan-reckoning",
            "api-kitchen-plan-take-over",
        )
    },
    **{
        name: lambda w: [w.dish.pk]
        for name in ("kitchen-dish", "kitchen-dish-remove", "api-dish-detail")
    },
    "api-kitchen-tables": lambda w: ["tomato"],
}

QUERY: dict = {
    "own-garden-new": lambda w: {"garden": w.garden.pk},
    "kitchen-add": lambda w: {"crop": w.crop.pk},
}

_DISH = {"amount": "3.5", "times": 4, "own_yield_per": "plant"}
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
    "kitchen-new POST": lambda w, me: {
        "garden": w.garden.pk,
        "year": 2028,
        "margin_percent": 10,
    },
    "kitchen-change POST": lambda w, me: {"margin_percent": 25},
    "kitchen-add POST": lambda w, me: _DISH,
    "kitchen-dish POST": lambda w, me: _DISH,
    "api-kitchen-plan-list POST": lambda w, me: {"garden": w.garden.pk, "year": 2028},
    "api-kitchen-plan-detail PATCH": lambda w, me: {"margin_percent": 25},
    "api-dish-list POST": lambda w, me: {
        "plan": w.kitchen.pk,
        "crop": "drying-bean",
        "amount": "3.5",
    },
    "api-dish-detail PATCH": lambda w, me: {"times": 52},
}
