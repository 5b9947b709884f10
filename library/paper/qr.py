"""The square code that opens a page of this site."""

from __future__ import annotations

import io

import segno
from django.conf import settings

# Any of the eight masks can be read. Which of them has the fewest look-alikes of the corner
# marks takes four times as long to find out, and five hundred labels are printed at a time.
MASK = 2


def address_of(path: str) -> str:
    """The whole address that the code holds."""
    return f"{settings.SITE_URL}{path}"


def square_code(path: str) -> str:
    """An SVG of the address as a QR code (ISO/IEC 18004), with its four modules of quiet zone.

    Level M still reads with about a seventh of it smudged or creased.
    """
    picture = io.BytesIO()
    segno.make(address_of(path), error="m", mask=MASK, micro=False).save(
        picture, kind="svg", border=4, light="#fff", xmldecl=False, nl=False
    )
    return picture.getvalue().decode()
