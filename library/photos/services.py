"""A picture somebody sent, written anew from its pixels before it is kept.

What a file says of itself is never believed: it is opened as one of three kinds, its size is
read before its pixels are, and only what was drawn from them is kept. Whatever else the file
held (where it was taken, a second file behind it, a script) stays behind.
"""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from accounts.models import Member
from library.errors import Refused
from library.photos.models import Photo

MOST_BYTES = 12 * 1024 * 1024
MOST_PIXELS = 40_000_000
# Of a kind that cannot be read smaller than it is: all its pixels are in memory at once.
MOST_PIXELS_WHOLE = 16_000_000
LONGEST_SIDE = 1600
KINDS = ("JPEG", "PNG", "WEBP")
QUALITY = 82


@dataclass(frozen=True)
class Picture:
    """A JPEG that was written here, and its size in pixels."""

    content: bytes
    width: int
    height: int


def picture_of(upload: Any) -> Picture:
    """What is kept of an uploaded file. Raises Refused for what is no picture.

    This takes up to a second of one processor; do it outside of a transaction.
    """
    if upload.size > MOST_BYTES:
        raise Refused(
            _("This picture has %(size).1f MB; up to %(most)s MB are taken.")
            % {"size": upload.size / 1024 / 1024, "most": MOST_BYTES // 1024 // 1024},
            field="photos",
        )
    return written_anew(upload.read(MOST_BYTES + 1))


def keep_photo(*, picture: Picture, by: Member, caption: str = "") -> Photo:
    """Keep a picture. Who may see it is said by what the caller attaches it to."""
    caption = " ".join((caption or "").split())
    if len(caption) > 250:
        raise Refused(_("A caption has up to 250 characters."), field="caption")
    return Photo.objects.create(
        content=picture.content,
        content_type="image/jpeg",
        width=picture.width,
        height=picture.height,
        caption=caption,
        added_by=by,
    )


def written_anew(raw: bytes) -> Picture:
    """A JPEG of the picture, upright and at most 1600 pixels long.

    Raises Refused for what cannot be read as JPEG, PNG or WebP, or has too many pixels.
    """
    from PIL import Image, ImageOps

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(raw), formats=KINDS) as picture:
                _check_size(picture)
                picture.draft("RGB", (LONGEST_SIDE * 2, LONGEST_SIDE * 2))
                picture.thumbnail((LONGEST_SIDE * 2, LONGEST_SIDE * 2))
                return _drawn(ImageOps.exif_transpose(picture))
    except Refused:
        raise
    except Exception as error:  # Pillow raises many kinds for broken files
        raise Refused(
            _("This file cannot be read as a picture; send a JPEG, PNG or WebP photo."),
            field="photos",
        ) from error


def _check_size(picture: Any) -> None:
    width, height = picture.size
    # A phone's JPEG may carry a second picture, and is then called by another name.
    most = MOST_PIXELS if picture.format in ("JPEG", "MPO") else MOST_PIXELS_WHOLE
    if width < 1 or height < 1 or width * height > most:
        raise Refused(
            _("This picture has %(width)s × %(height)s pixels; %(most)s million are the most.")
            % {"width": width, "height": height, "most": most // 1_000_000},
            field="photos",
        )


def _drawn(picture: Any) -> Picture:
    from PIL import Image

    if picture.mode not in ("RGB", "L", "CMYK"):
        # Where it is clear, paper shows.
        behind = Image.new("RGB", picture.size, "white")
        clear = picture.convert("RGBA")
        behind.paste(clear, mask=clear.getchannel("A"))
        picture = behind
    picture = picture.convert("RGB")
    picture.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    out = io.BytesIO()
    # A picture of its own: nothing of the file's own notes goes along.
    bare = Image.frombytes("RGB", picture.size, picture.tobytes())
    bare.save(out, "JPEG", quality=QUALITY, optimize=True)
    return Picture(out.getvalue(), *bare.size)
