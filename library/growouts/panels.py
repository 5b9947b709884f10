"""What grow-outs add to the pages of the apps below."""

from __future__ import annotations


def register() -> None:
    """Each part registers its own panels here."""
