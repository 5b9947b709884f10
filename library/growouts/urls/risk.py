"""Addresses of what is at risk."""

from __future__ import annotations

pages: list = []
resources: list = []
endpoints: list = []
