"""What is on a PDF's pages, by a renderer and a decoder that are not ours."""

from __future__ import annotations

import io
from dataclasses import dataclass

import pypdfium2
import zxingcpp

DPI = 254  # ten dots to the millimetre
MM = 25.4 / 72


@dataclass(frozen=True)
class Square:
    """A QR code that was read: its text, and its page, left, top and width in mm."""

    text: str
    page: int
    x: float
    y: float
    width: float


def squares(pdf: bytes) -> list[Square]:
    found = []
    for number, page in enumerate(pypdfium2.PdfDocument(pdf)):
        picture = page.render(scale=DPI / 72).to_pil().convert("L")
        for code in zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode):
            at = code.position
            x, y = at.top_left.x / 10, at.top_left.y / 10
            found.append(Square(code.text, number, x, y, at.top_right.x / 10 - x))
    return found


def pages(pdf: bytes) -> list[str]:
    """The text of each page on one line, as it would be copied out of a viewer."""
    return [
        " ".join(
            page.get_textpage()
            .get_text_range()
            .replace("\ufffe", "")
            .replace("\u200b", "")
            .split()
        )
        for page in pypdfium2.PdfDocument(pdf)
    ]


def sizes(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height of each page in mm."""
    return [
        (round(w * MM, 1), round(h * MM, 1))
        for w, h in (page.get_size() for page in pypdfium2.PdfDocument(pdf))
    ]


def text_boxes(pdf: bytes, page: int = 0) -> list[tuple[float, float, float, float]]:
    """Left, top, right and bottom in mm of each letter on a page."""
    sheet = pypdfium2.PdfDocument(pdf)[page]
    high, text = sheet.get_height(), sheet.get_textpage()
    boxes = []
    for index in range(text.count_chars()):
        if text.get_text_range(index, 1).strip():
            left, bottom, right, top = text.get_charbox(index)
            boxes.append((left * MM, (high - top) * MM, right * MM, (high - bottom) * MM))
    return boxes


def fonts_are_embedded(pdf: bytes) -> bool:
    return b"/FontFile" in pdf or b"/FontFile" in _unpacked(pdf)


def _unpacked(pdf: bytes) -> bytes:
    import re
    import zlib

    out = io.BytesIO()
    for packed in re.findall(rb"stream\r?\n(.*?)endstream", pdf, re.DOTALL):
        try:
            out.write(zlib.decompressobj().decompress(packed))
        except zlib.error:
            continue
    return out.getvalue()


def all_of(pdf: bytes) -> bytes:
    """The file with its streams unpacked, to look for a name in."""
    return pdf + _unpacked(pdf)
