"""How a refusal reaches a person: a page, or the API's JSON."""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import urlsplit

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils.cache import add_never_cache_headers
from django.utils.translation import gettext as _
from django.views.defaults import page_not_found
from rest_framework.exceptions import APIException, ValidationError
from rest_framework.response import Response
from rest_framework.views import exception_handler, set_rollback

from library.errors import Refused


def refusal_body(error: Refused) -> dict:
    """The API's one shape for a refusal: ``{"code", "detail", "field"}``."""
    return {"code": error.code, "detail": str(error), "field": error.field}


def api_refusal(error: Exception, context: dict) -> Response | None:
    """DRF's exception handler: every refusal, ours and DRF's own, in one shape."""
    if isinstance(error, Refused):
        set_rollback()
        return Response(refusal_body(error), status=error.status)
    response = exception_handler(error, context)
    if response is None:
        return None
    if isinstance(error, ValidationError):
        response.data = invalid_body(response.data)
    else:
        response.data = api_error_body(error, response)
    return response


def invalid_body(errors: Any) -> dict:
    """A serializer's or filter's errors: the first as the sentence, and all of them."""
    if not isinstance(errors, dict):
        errors = {"non_field_errors": errors}
    field, sentence = first_sentence(errors)
    return {"code": "invalid", "detail": sentence, "field": field, "errors": errors}


def first_sentence(errors: Any, field: str | None = None) -> tuple[str | None, str]:
    """The first message in DRF's nested errors, with the dotted name of its field."""
    if isinstance(errors, dict):
        name, inner = next(iter(errors.items()), (None, ""))
        own = None if name in (None, "non_field_errors") else str(name)
        return first_sentence(inner, ".".join(filter(None, (field, own))) or None)
    if isinstance(errors, list):
        number, inner = next(((n, e) for n, e in enumerate(errors) if e), (0, ""))
        deeper = f"{field}.{number}" if field and isinstance(inner, dict) else field
        return first_sentence(inner, deeper)
    return field, str(errors)


def api_error_body(error: Exception, response: Response) -> dict:
    codes = error.get_codes() if isinstance(error, APIException) else None
    known = {404: "not_found", 403: "permission_denied"}
    code = codes if isinstance(codes, str) else known.get(response.status_code, "error")
    detail = response.data.get("detail", "") if isinstance(response.data, dict) else ""
    return {"code": code, "detail": str(detail), "field": None}


class NoNullCharacters:
    """Nothing here has a name with U+0000 in it, and PostgreSQL breaks when asked for one.

    Here a path with it leads nowhere; questions, forms and the API's bodies say so themselves.
    """

    def __init__(self, get_response) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if "\x00" in request.path_info:
            return not_found(request, Http404())
        return self.get_response(request)


class RefusalPages:
    """A refusal that no view caught becomes a page that says the sentence."""

    def __init__(self, get_response) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        if not isinstance(error, Refused):
            return None
        return render(request, "refused.html", {"error": error}, status=error.status)


# Fields of which nothing is shown again: secrets, and what no person typed.
KEPT_QUIET = re.compile(r"password|secret|token|^code$|_FORMS$|^next$", re.IGNORECASE)


def form_too_old(request: HttpRequest, reason: str = "") -> HttpResponse:
    """403 for a form whose token is missing or old; what was typed in it comes back as text.

    Only from a page of ours: what another site sends here is neither shown nor ever made ready
    to be sent again, for that would be the very trick that the token guards against.
    """
    typed: list[tuple[str, str]] = []
    page = ""
    if _was_sent_from_here(request):
        typed = [
            (name.replace("_", " ").replace("-", " "), value)
            for name, values in request.POST.lists()
            for value in values
            if value.strip() and not KEPT_QUIET.search(name)
        ]
        page = urlsplit(request.headers.get("Referer", "")).path
    context = {"typed": typed, "page": page, "had_files": bool(page and request.FILES)}
    response = render(request, "403_csrf.html", context, status=403)
    add_never_cache_headers(response)
    return response


def _was_sent_from_here(request: HttpRequest) -> bool:
    """Whether the browser itself says that a page of this server sent the form."""
    sender = request.headers.get("Origin") or request.headers.get("Referer", "")
    here = f"{request.scheme}://{request.get_host()}"
    return sender == here or sender.startswith(f"{here}/")


def _is_api(request: HttpRequest) -> bool:
    return request.path.startswith("/api/")


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """404 for an address that leads nowhere: JSON under /api/, else the site's page."""
    if _is_api(request):
        body = {
            "code": "not_found",
            "detail": str(_("There is no such address.")),
            "field": None,
        }
        return JsonResponse(body, status=404)
    request.leads_nowhere = True  # type: ignore[attr-defined]  # its address is not repeated
    return page_not_found(request, exception)
