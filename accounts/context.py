"""What every page knows about the community."""

from __future__ import annotations

from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from accounts.models import Community


def community(request: HttpRequest) -> dict:
    return {"community": SimpleLazyObject(Community.current)}
