"""Addresses of pictures of a season."""

from __future__ import annotations

pages: list = []
resources: list = []
endpoints: list = []
