"""Addresses of seasons, offers and own plantings."""

from __future__ import annotations

pages: list = []
resources: list = []
endpoints: list = []
