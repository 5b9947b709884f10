"""How every form of the site is drawn."""

from __future__ import annotations

from django.forms.renderers import TemplatesSetting


class FormRenderer(TemplatesSetting):
    """Finds form templates among the site's own."""
