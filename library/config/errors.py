"""How a refusal reaches a person: a page, or the API's JSON."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from rest_framework.response import Response
from rest_framework.views import exception_handler

from library.errors import Refused


def refusal_body(error: Refused) -> dict:
    """The API's one shape for a refusal: ``{"code", "detail", "field"}``."""
    return {"code": error.code, "detail": str(error), "field": error.field}


def api_refusal(error: Exception, context: dict) -> Response | None:
    """DRF's exception handler, with our refusals in it."""
    if isinstance(error, Refused):
        return Response(refusal_body(error), status=error.status)
    return exception_handler(error, context)


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
