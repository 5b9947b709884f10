"""Each person's own time zone and language, and one reading of the community's row."""

from __future__ import annotations

import zoneinfo

from django.http import HttpRequest, HttpResponse
from django.utils import timezone, translation

from accounts.current import one_reading
from accounts.languages import language_of
from accounts.models import Community, Member


class MemberPreferences:
    """Activates the member's time zone and language, else the community's."""

    def __init__(self, get_response) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path.startswith(("/static/", "/healthz", "/metrics")):
            return self.get_response(request)
        with one_reading():
            member = request.user if request.user.is_authenticated else None
            translation.activate(language_of(request, member))
            request.LANGUAGE_CODE = translation.get_language()
            with timezone.override(zone_of(member)):
                return self.get_response(request)


def zone_of(member: Member | None) -> zoneinfo.ZoneInfo:
    """The member's zone, else the community's, else UTC (a zone can leave the tables)."""
    name = (member and member.time_zone) or Community.current().time_zone
    try:
        return zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError):
        return zoneinfo.ZoneInfo("UTC")
