"""This app's addresses: pages, API resources, and single endpoints."""

from __future__ import annotations

pages: list = []
resources: list = []
endpoints: list = []
