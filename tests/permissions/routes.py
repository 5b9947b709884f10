"""Every address of the site, found by walking the resolver."""

from __future__ import annotations

from collections.abc import Iterator

from django.urls import URLPattern, get_resolver

METHODS = ["GET", "POST", "PUT", "PATCH", "DELETE"]


def every_pattern() -> Iterator[tuple[str, URLPattern]]:
    """Each route with its name, the namespace before it."""
    yield from _walk(get_resolver().url_patterns, "")


def _walk(patterns, namespace: str) -> Iterator[tuple[str, URLPattern]]:
    for each in patterns:
        if isinstance(each, URLPattern):
            yield f"{namespace}{each.name}", each
        else:
            inner = f"{each.namespace}:" if each.namespace else namespace
            yield from _walk(each.url_patterns, inner)


def methods_of(view) -> set[str]:
    """What the view accepts, apart from HEAD and OPTIONS, which follow from it.

    A function says nothing of its methods: it is held to GET, and to 405 for the rest.
    """
    actions = getattr(view, "actions", None)  # of a viewset: {"post": "create"}
    cls = getattr(view, "view_class", None) or getattr(view, "cls", None)
    if cls is None:
        return {"GET"}
    has = [name for name in cls.http_method_names if actions or hasattr(cls, name)]
    return {name.upper() for name in has if not actions or name in actions} & set(METHODS)


def every_route() -> dict[str, set[str]]:
    """The methods of each named route."""
    found: dict[str, set[str]] = {}
    for name, pattern in every_pattern():
        found.setdefault(name, set()).update(methods_of(pattern.callback))
    return found
