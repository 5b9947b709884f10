"""Commitments: the grower's own, every one for a coordinator."""

from __future__ import annotations

TABLE = """
route                             method anon  appl  other owner desk  coord admin
"""

THINGS: dict = {}

QUERY: dict = {}

SENT: dict = {}
