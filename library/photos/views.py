"""Serving a photo; who may see it is decided by the page that it belongs to."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, HttpResponseNotModified

from library.photos.models import Photo


def photo_response(request: HttpRequest, photo: Photo) -> HttpResponse:
    """The picture, kept by the reader's own browser only. It never changes."""
    etag = f'"{photo.identifier}"'
    if request.headers.get("If-None-Match") == etag:
        return HttpResponseNotModified()
    response = HttpResponse(bytes(photo.content), content_type=photo.content_type)
    response["ETag"] = etag
    response["Cache-Control"] = "private, max-age=31536000, immutable"
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Disposition"] = "inline"
    return response
