"""Addresses of plans."""

from __future__ import annotations

pages: list = []
resources: list = []
endpoints: list = []
