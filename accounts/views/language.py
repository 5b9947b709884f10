"""The switch of languages at the foot of every page."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.generic import View

from accounts import services
from library.errors import Refused

A_YEAR_S = 365 * 24 * 3600


class LanguagePage(View):
    """Remembers a language: a member's beside their name, a visitor's in a cookie."""

    http_method_names = ["post", "options"]

    def post(self, request: HttpRequest) -> HttpResponse:
        chosen = request.POST.get("language", "")
        known = dict(settings.LANGUAGES)
        if chosen not in known:
            raise Refused(
                _("These pages are not written in that language. Choose one of: %(known)s.")
                % {"known": ", ".join(known.values())},
                field="language",
            )
        if request.user.is_authenticated:
            services.save_preferences(member=request.user, language=chosen)
        answer = HttpResponseRedirect(_back(request))
        answer.set_cookie(
            settings.LANGUAGE_COOKIE_NAME,
            chosen,
            max_age=A_YEAR_S,
            secure=settings.SESSION_COOKIE_SECURE,
            httponly=True,
            samesite="Lax",
        )
        return answer


def _back(request: HttpRequest) -> str:
    """The page that the switch was on, if it is one of ours."""
    address = request.POST.get("next", "")
    ours = url_has_allowed_host_and_scheme(
        address, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return address if ours and address.startswith("/") else reverse("home")
