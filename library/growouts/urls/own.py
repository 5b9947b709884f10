"""Addresses of one's own garden."""

from __future__ import annotations

pages: list = []
resources: list = []
endpoints: list = []
