"""What a page says, for every test that reads one."""

from __future__ import annotations

GERMAN = {"headers": {"Accept-Language": "de"}}  # keywords for a test client


def text_of(response) -> str:
    """The page with its markup, each run of white space one space."""
    return " ".join(response.content.decode().split())
