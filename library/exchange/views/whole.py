"""Data to take along: the whole library's, and one's own."""

from __future__ import annotations

import io
import tempfile
from collections.abc import Callable
from typing import Any

from django.http import FileResponse, HttpResponse
from django.http.response import HttpResponseBase
from django.utils import timezone
from django.views.generic import TemplateView

from accounts.access import CoordinatorPage, MemberRequest, SignedInPage
from library.exchange.whole.own import write_own
from library.exchange.whole.tables import TABLES
from library.exchange.whole.writing import write_library

IN_MEMORY = 5_000_000  # bytes; a larger archive waits on the disk
KIND = "application/zip"


class LibraryDataPage(CoordinatorPage, TemplateView):
    """What the archive holds, table by table, and the way to it."""

    template_name = "exchange/library_data.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(tables=TABLES, **kwargs)


class LibraryDataFile(CoordinatorPage):
    def get(self, request: MemberRequest) -> HttpResponseBase:
        return library_archive(request)


class OwnDataFile(SignedInPage):
    def get(self, request: MemberRequest) -> HttpResponseBase:
        if request.method == "HEAD":
            return HttpResponse(content_type=KIND)
        today = timezone.localdate()
        return _written(f"my-seed-{today}.zip", write_own, member=request.user, on=today)


def library_archive(request: Any) -> HttpResponseBase:
    if request.method == "HEAD":  # it would be written to be thrown away
        return HttpResponse(content_type=KIND)
    today = timezone.localdate()
    return _written(f"seed-library-{today}.zip", write_library, on=today)


def _written(name: str, write: Callable[..., Any], **facts: Any) -> FileResponse:
    """``write(file, **facts)`` as an answer, which closes the file."""
    file = tempfile.SpooledTemporaryFile(IN_MEMORY)  # noqa: SIM115
    write(file, **facts)
    size = file.tell()
    file.seek(0)
    if size <= IN_MEMORY:  # a small one is sent from memory, and nothing stays open
        with file:
            content: Any = io.BytesIO(file.read())
    else:
        content = file
    answer = FileResponse(content, as_attachment=True, filename=name, content_type=KIND)
    answer["Cache-Control"] = "no-store"
    return answer
