"""What is at risk: read by members, the rules changed by administrators or coordinators."""

from __future__ import annotations

TABLE = """
route                             method anon  appl  other owner desk  coord admin
"""

THINGS: dict = {}

QUERY: dict = {}

SENT: dict = {}
