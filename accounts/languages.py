"""Which language somebody reads: their own choice, the browser's wish, else the library's."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest
from django.utils.translation import get_supported_language_variant
from django.utils.translation.trans_real import parse_accept_lang_header

from accounts.models import Community, Member


def language_of(request: HttpRequest, member: Member | None) -> str:
    """The member's choice, else the cookie's, else what the browser asks for, else the
    library's own language.
    """
    cookie = request.COOKIES.get(settings.LANGUAGE_COOKIE_NAME, "")
    asked = [
        code for code, _ in parse_accept_lang_header(request.headers.get("accept-language", ""))
    ]
    wishes = [member.language if member else "", cookie, *asked]
    known = (_known(wish) for wish in wishes if wish and wish != "*")
    return next(filter(None, known), None) or Community.current().language


def _known(code: str) -> str | None:
    try:
        return get_supported_language_variant(code)
    except LookupError:
        return None
