"""The description of the whole API: the same for everybody, and seconds of work."""

from __future__ import annotations

from functools import cache

from django.conf import settings
from django.http import HttpResponse
from django.utils import translation
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.views import SpectacularAPIView
from rest_framework.request import Request


class SchemaView(SpectacularAPIView):
    """The document in the language and the format that is asked for."""

    def _get_schema_response(self, request: Request) -> HttpResponse:
        renderer = request.accepted_renderer
        known = dict(settings.LANGUAGES)  # whatever else is asked for would fill the memory
        language = translation.get_language() or settings.LANGUAGE_CODE
        language = language if language in known else settings.LANGUAGE_CODE
        content = described(language, renderer.media_type)
        answer = HttpResponse(content, content_type=renderer.media_type)
        name = self._get_filename(request, "")
        answer["Content-Disposition"] = f'inline; filename="{name}"'
        return answer


@cache
def described(language: str, media_type: str) -> str | bytes:
    """Made once in the life of a process."""
    renderers = {kind.media_type: kind for kind in SchemaView.renderer_classes}
    with translation.override(language):
        schema = SchemaGenerator().get_schema(request=None, public=True)
        return renderers[media_type]().render(schema, renderer_context={})
