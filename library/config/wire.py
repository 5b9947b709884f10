"""What goes over the wire, made small: seed is looked up from gardens with poor reception.

Static files are packed once and the packed copies kept among the data; pages are packed as they
are written. A proxy in front may do the same, and then finds it done.
"""

from __future__ import annotations

import gzip
import hashlib
import os
import tempfile
from pathlib import Path

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase
from django.middleware.gzip import GZipMiddleware
from whitenoise.middleware import WhiteNoiseMiddleware
from whitenoise.responders import StaticFile

PACKED_WELL = {".css", ".js", ".svg", ".json", ".txt", ".html", ".map"}
# Shorter than this a file costs the same packet either way.
WORTH_PACKING = 500


class PackedFiles(WhiteNoiseMiddleware):
    """Each static file with a packed copy beside it, without a step before the start."""

    def get_static_file(self, path: str, url: str, stat_cache=None) -> StaticFile:
        found = super().get_static_file(path, url, stat_cache)
        copy = packed_copy(Path(path))
        if copy is None:
            return found
        known = None if stat_cache is None else stat_cache | {str(copy): copy.stat()}
        plain_headers = [
            header for header in found.alternatives[-1][2] if header[0] != "Content-Length"
        ]
        return StaticFile(path, plain_headers, stat_cache=known, encodings={"gzip": str(copy)})


def packed_copy(path: Path) -> Path | None:
    """The file packed, under a name made of what it holds: an old copy is never served."""
    if path.suffix not in PACKED_WELL or path.stat().st_size < WORTH_PACKING:
        return None
    content = path.read_bytes()
    folder = settings.DATA_DIR / "packed"
    copy = folder / f"{hashlib.sha256(content).hexdigest()}.gz"
    if not copy.exists():
        folder.mkdir(exist_ok=True)
        # Several processes may start at once: each writes its own, and the last name wins.
        number, unfinished = tempfile.mkstemp(dir=folder)
        with os.fdopen(number, "wb") as file:
            file.write(gzip.compress(content, mtime=0))
        Path(unfinished).replace(copy)
    return copy


class PackedPages(GZipMiddleware):
    """Pages and data packed on the way out; pictures and printed sheets are packed already.

    Django adds bytes of a random length, so that the packed length does not tell what the page
    keeps secret (the attack called BREACH).
    """

    def process_response(self, request: HttpRequest, response: HttpResponseBase):
        kind = response.headers.get("Content-Type", "")
        if not kind.startswith(("text/", "application/json", "image/svg+xml")):
            return response
        return super().process_response(request, response)
