"""A picture somebody sent, written anew from its pixels before it is kept.

What a file says of itself is never believed: it is opened as one of three kinds, its size is
read before its pixels are, and only what was drawn from them is kept. Whatever else the file
held (where it was taken, a second file behind it, a script) stays behind.
"""

from __future__ import annotations

import io
import warnings
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Member
from library.errors import Refused
from library.photos.models import Photo

MOST_BYTES = 12 * 1024 * 1024
MOST_PIXELS = 40_000_000
LONGEST_SIDE = 1600
KINDS = ("JPEG", "PNG", "WEBP")
QUALITY = 82


@transaction.atomic
def keep_photo(*, upload: Any, by: Member, caption: str = "") -> Photo:
    """Keep a picture; ``upload`` is a Django uploaded file. Raises Refused for what is none."""
    content, width, height = written_anew(_read(upload))
    caption = " ".join((caption or "").split())
    if len(caption) > 250:
        raise Refused(_("A caption has up to 250 characters."), field="caption")
    return Photo.objects.create(
        content=content,
        content_type="image/jpeg",
        width=width,
        height=height,
        caption=caption,
        added_by=by,
    )


def _read(upload: Any) -> bytes:
    if upload.size > MOST_BYTES:
        raise Refused(
            _("This picture has %(size).1f MB; up to %(most)s MB are taken.")
            % {"size": upload.size / 1024 / 1024, "most": MOST_BYTES // 1024 // 1024},
            field="photos",
        )
    return upload.read(MOST_BYTES + 1)


def written_anew(raw: bytes) -> tuple[bytes, int, int]:
    """A JPEG of the picture, upright and at most 1600 pixels long; with its width and height.

    Raises Refused for what cannot be read as JPEG, PNG or WebP, or has too many pixels.
    """
    from PIL import Image, ImageOps

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(raw), formats=KINDS) as picture:
                _check_size(picture.size)
                picture.draft("RGB", (LONGEST_SIDE * 2, LONGEST_SIDE * 2))
                upright = ImageOps.exif_transpose(picture)
                return _drawn(upright)
    except Refused:
        raise
    except Exception as error:  # Pillow raises many kinds for broken files
        raise Refused(
            _("This file cannot be read as a picture; send a JPEG, PNG or WebP photo."),
            field="photos",
        ) from error


def _check_size(size: tuple[int, int]) -> None:
    width, height = size
    if width < 1 or height < 1 or width * height > MOST_PIXELS:
        raise Refused(
            _("This picture has %(width)s × %(height)s pixels; %(most)s million are the most.")
            % {"width": width, "height": height, "most": MOST_PIXELS // 1_000_000},
            field="photos",
        )


def _drawn(picture: Any) -> tuple[bytes, int, int]:
    from PIL import Image

    picture.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    if picture.mode != "RGB":
        # Where it is clear, paper shows.
        behind = Image.new("RGB", picture.size, "white")
        clear = picture.convert("RGBA")
        behind.paste(clear, mask=clear.getchannel("A"))
        picture = behind
    out = io.BytesIO()
    # A picture of its own: nothing of the file's own notes goes along.
    bare = Image.frombytes("RGB", picture.size, picture.tobytes())
    bare.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue(), *bare.size
