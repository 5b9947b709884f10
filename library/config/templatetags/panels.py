"""Parts of a page that upper apps have registered for it."""

from __future__ import annotations

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe

from library.hooks import Panel, panels_for

register = template.Library()


@register.simple_tag(takes_context=True)
def panels(context, place: str, subject=None) -> SafeString:
    """``{% panels "lot" lot %}`` draws every panel registered for that place, in order."""
    request = context["request"]
    drawn = (_draw(panel, request, subject) for panel in panels_for(place))
    # Each part was escaped when its own template was rendered.
    return mark_safe("".join(drawn))  # noqa: S308


def _draw(panel: Panel, request, subject) -> str:
    known = panel.context(request, subject)
    if known is None:
        return ""
    return render_to_string(panel.template, known, request=request)
