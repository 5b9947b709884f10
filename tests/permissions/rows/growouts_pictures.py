"""Pictures of a season."""

from __future__ import annotations

TABLE = """
route                             method anon  appl  other owner desk  coord admin
season-calendar                   GET    in    404   200   200   200   200   200
season-map                        GET    in    404   200   200   200   200   200
season-map#plan                   GET    in    404   200   200   200   200   200
season-story                      GET    in    404   200   200   200   200   200
api-season-calendar               GET    401   404   200   200   200   200   200
api-season-map                    GET    401   404   200   200   200   200   200
api-season-map#plan               GET    401   404   200   200   200   200   200
api-season-story                  GET    401   404   200   200   200   200   200
"""

PICTURES = ["season-calendar", "season-map", "season-story"]

THINGS: dict = {
    name: lambda w: [w.season.year]
    for name in [*PICTURES, *(f"api-{name}" for name in PICTURES)]
}

QUERY: dict = {
    name: lambda w: {"plan": w.plan.pk, "species": w.variety.crop.species.slug}
    for name in ("season-map#plan", "api-season-map#plan")
}

SENT: dict = {}
