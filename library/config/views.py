"""Pages that gather from every app through hooks."""

from __future__ import annotations

from typing import Any

from django.templatetags.static import static
from django.views.generic import RedirectView, TemplateView


class HomePage(TemplateView):
    template_name = "home.html"


class Favicon(RedirectView):
    """Asked for by programs that read no page's head, as feed readers and older browsers."""

    http_method_names = ["get", "head", "options"]

    def get_redirect_url(self, *args: Any, **kwargs: Any) -> str:
        return static("sowback/mark.svg")
