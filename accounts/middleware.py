"""Each person's own time zone and language."""

from __future__ import annotations

import zoneinfo

from django.http import HttpRequest, HttpResponse
from django.utils import timezone, translation

from accounts.models import Community


class MemberPreferences:
    """Activates the member's time zone (else the community's) and chosen language."""

    def __init__(self, get_response) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path.startswith("/static/"):
            return self.get_response(request)
        member = request.user if request.user.is_authenticated else None
        zone = (member and member.time_zone) or Community.current().time_zone
        if member and member.language:
            translation.activate(member.language)
            request.LANGUAGE_CODE = translation.get_language()
        with timezone.override(zoneinfo.ZoneInfo(zone)):
            return self.get_response(request)
