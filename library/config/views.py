"""Pages that gather from every app through hooks."""

from __future__ import annotations

from django.views.generic import TemplateView


class HomePage(TemplateView):
    template_name = "home.html"
