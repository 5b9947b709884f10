"""This app's addresses, gathered from its parts: pages, API resources, and single endpoints."""

from __future__ import annotations

from library.growouts.urls import commitments, own, pictures, plans, risk, seasons

PARTS = [risk, seasons, plans, commitments, own, pictures]

pages: list = [pattern for part in PARTS for pattern in part.pages]
resources: list = [resource for part in PARTS for resource in part.resources]
endpoints: list = [pattern for part in PARTS for pattern in part.endpoints]
