"""The site and one address more: a view that does nothing, behind the same middleware."""

from __future__ import annotations

import os

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "library.config.settings")

from django.conf import settings
from django.core.wsgi import get_wsgi_application
from django.http import HttpRequest, HttpResponse
from django.urls import path

EMPTY = "/load/empty/"


def empty(request: HttpRequest) -> HttpResponse:
    return HttpResponse()


settings.ROOT_URLCONF = __name__
application = get_wsgi_application()

from library.config import urls  # noqa: E402 (the applications must be ready first)

urlpatterns = [path(EMPTY.lstrip("/"), empty), *urls.urlpatterns]
handler404 = urls.handler404
