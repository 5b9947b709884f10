"""Seasons, offers and own plantings."""

from __future__ import annotations

TABLE = """
route                             method anon  appl  other owner desk  coord admin
growouts                          GET    in    404   200   200   200   200   200
growout-season-new                GET    in    404   404   404   404   200   200
growout-season-new                POST   in    404   404   404   404   302   302
growout-season                    GET    in    404   200   200   200   200   200
growout-season-change             GET    in    404   404   404   404   200   200
growout-season-change             POST   in    404   404   404   404   302   302
growout-season-close              GET    in    404   404   404   404   200   200
growout-season-close              POST   in    404   404   404   404   302   302
growout-wanted                    GET    in    404   404   404   404   200   200
growout-wanted                    POST   in    404   404   404   404   302   302
growout-offer                     GET    in    404   200   200   200   200   200
growout-offer                     POST   in    404   400   302   400   400   400
growout-offer-of                  GET    in    404   404   404   404   200   200
growout-offer-of                  POST   in    404   404   404   404   302   302
growout-offer-withdraw            POST   in    404   404   302   404   302   302
growout-plantings                 GET    in    404   200   200   200   200   200
growout-planting-new              GET    in    404   200   200   200   200   200
growout-planting-new              POST   in    404   400   302   400   400   400
growout-planting                  GET    in    404   404   200   404   404   404
growout-planting                  POST   in    404   404   302   404   404   404
growout-planting-remove           POST   in    404   404   302   404   404   404
api-season-list                   GET    401   404   200   200   200   200   200
api-season-list                   POST   401   404   403   403   403   201   201
api-season-detail                 GET    401   404   200   200   200   200   200
api-season-detail                 PATCH  401   404   403   403   403   200   200
api-season-close                  POST   401   404   403   403   403   200   200
api-season-reopen                 POST   401   404   403   403   403   200   200
api-season-wanted                 GET    401   404   200   200   200   200   200
api-season-want                   POST   401   404   403   403   403   200   200
api-season-drop                   POST   401   404   403   403   403   200   200
api-grower-offer-list             GET    401   404   200   200   200   200   200
api-grower-offer-list             POST   401   404   400   201   400   400   400
api-grower-offer-list#for-owner   POST   401   404   400   201   400   201   201
api-grower-offer-detail           GET    401   404   404   200   404   200   200
api-grower-offer-withdraw         POST   401   404   404   200   404   200   200
api-planting-list                 GET    401   404   200   200   200   200   200
api-planting-list                 POST   401   404   400   201   400   400   400
api-planting-detail               GET    401   404   404   200   404   200   200
api-planting-detail               PATCH  401   404   404   200   404   403   403
api-planting-detail               DELETE 401   404   404   204   404   403   403
"""

THINGS = {
    **{
        name: lambda w: [w.season.year]
        for name in (
            "growout-season",
            "growout-season-change",
            "growout-wanted",
            "growout-offer",
            "api-season-detail",
            "api-season-wanted",
            "api-season-want",
            "api-season-drop",
        )
    },
    **{
        # Nothing is promised in these: one that can be closed, one that can be opened again.
        "growout-season-close": lambda w: [w.quiet_season.year],
        "api-season-close": lambda w: [w.quiet_season.year],
        "api-season-reopen": lambda w: [w.past_season.year],
    },
    "growout-offer-of": lambda w: [w.season.year, w.members["owner"].pk],
    "growout-offer-withdraw": lambda w: [w.quiet_offer.pk],
    "growout-planting": lambda w: [w.planting.pk],
    "growout-planting-remove": lambda w: [w.planting.pk],
    "api-grower-offer-detail": lambda w: [w.offer.pk],
    "api-grower-offer-withdraw": lambda w: [w.quiet_offer.pk],
    "api-planting-detail": lambda w: [w.planting.pk],
}

QUERY: dict = {
    "growout-plantings": lambda w: {"year": w.season.year},
    "growout-planting-new": lambda w: {"year": w.season.year, "garden": w.garden.pk},
}

NOTE = {"note": "Sow early."}


def _room(w) -> dict:
    """What a form says of the owner's garden."""
    return {
        "most": 2,
        f"offered_{w.garden.pk}": "on",
        f"room_m2_{w.garden.pk}": 30,
    }


def _offer(w) -> dict:
    gardens = [{"garden": w.garden.pk, "plots": 3, "plot_m2": "4.5"}]
    return {"season": w.season.year, "most": 2, "gardens": gardens}


SENT: dict = {
    "growout-season-new POST": lambda w, me: {"year": 2031},
    "growout-season-change POST": lambda w, me: NOTE,
    "growout-wanted POST": lambda w, me: {
        "act": "want",
        "varieties": w.variety.pk,
        "weight": 2,
        "most_growers": 2,
    },
    "growout-offer POST": lambda w, me: _room(w),
    "growout-offer-of POST": lambda w, me: _room(w),
    "growout-planting-new POST": lambda w, me: {
        "garden": w.garden.pk,
        "crop": w.crop.pk,
        "name": "Crag Runner",
        "year": w.season.year,
        "flowers": "on",
    },
    "growout-planting POST": lambda w, me: {
        "garden": w.garden.pk,
        "crop": w.crop.pk,
        "name": "one of my own",
        "year": w.season.year,
    },
    "api-season-list POST": lambda w, me: {"year": 2031},
    "api-season-detail PATCH": lambda w, me: NOTE,
    "api-season-want POST": lambda w, me: {"varieties": [w.variety.pk], "weight": 2},
    "api-season-drop POST": lambda w, me: {"varieties": [w.variety.pk]},
    "api-grower-offer-list POST": lambda w, me: _offer(w),
    "api-grower-offer-list#for-owner POST": lambda w, me: _offer(w) | {"member": "wren"},
    "api-planting-list POST": lambda w, me: {
        "garden": w.garden.pk,
        "year": w.season.year,
        "variety": w.variety.pk,
    },
    "api-planting-detail PATCH": lambda w, me: {"plants": 12},
}
