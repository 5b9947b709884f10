"""What every page knows about the community."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from accounts.models import Community


def community(request: HttpRequest) -> dict:
    return {"community": SimpleLazyObject(Community.current)}


def languages(request: HttpRequest) -> dict:
    """The languages of these pages as pairs of code and own name, to choose one from."""
    return {"LANGUAGES": settings.LANGUAGES}
