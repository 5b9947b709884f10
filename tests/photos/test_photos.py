"""Pictures that are no pictures, or too much of one, and what is left of those that are."""

from __future__ import annotations

import io
import struct
import zlib

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from library.errors import Refused
from library.photos.models import Photo
from library.photos.services import LONGEST_SIDE, MOST_BYTES, keep_photo, picture_of

LEFT, RIGHT = (200, 30, 30), (30, 30, 200)
BROWSER_RUNS_THIS = b"<script>alert(document.cookie)</script>"


def upload(content: bytes, name: str = "IMG_1.jpg", kind: str = "image/jpeg"):
    return SimpleUploadedFile(name, content, content_type=kind)


def painted(width: int = 40, height: int = 20, *, mode: str = "RGB") -> Image.Image:
    """Red on the left and blue on the right."""
    picture = Image.new("RGB", (width, height), LEFT)
    picture.paste(RIGHT, (width // 2, 0, width, height))
    return picture.convert(mode)


def written(picture: Image.Image, kind: str = "JPEG", **options) -> bytes:
    out = io.BytesIO()
    picture.save(out, kind, **options)
    return out.getvalue()


def opened(picture) -> Image.Image:
    return Image.open(io.BytesIO(picture.content))


def near(pixel, colour) -> bool:
    return all(abs(a - b) < 40 for a, b in zip(pixel, colour, strict=True))


def from_a_phone(orientation: int = 1) -> bytes:
    """With the place and the phone in its notes."""
    notes = Image.Exif()
    notes[0x0110] = "Phone of Marta"
    notes[0x0112] = orientation
    notes.get_ifd(0x8825).update({1: "N", 2: (54.0, 12.0, 0.0), 3: "W", 4: (2.0, 54.0, 0.0)})
    return written(painted(), exif=notes, comment=b"behind the mill")


# What is taken ----------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("kind", "mode"),
    [
        ("JPEG", "RGB"),
        ("JPEG", "L"),
        ("JPEG", "CMYK"),
        ("PNG", "RGB"),
        ("PNG", "RGBA"),
        ("PNG", "P"),
        ("PNG", "L"),
        ("PNG", "LA"),
        ("PNG", "1"),
        ("PNG", "I;16"),
        ("WEBP", "RGB"),
        ("WEBP", "RGBA"),
    ],
)
def test_every_kind_of_photo_becomes_one_kind(kind, mode):
    picture = Image.new("I;16", (40, 20)) if mode == "I;16" else painted(mode=mode)

    kept = picture_of(upload(written(picture, kind)))

    back = opened(kept)
    assert (back.format, back.mode, back.size) == ("JPEG", "RGB", (40, 20))
    if mode in ("RGB", "RGBA", "P", "CMYK"):
        assert near(back.getpixel((5, 10)), LEFT)
        assert near(back.getpixel((35, 10)), RIGHT)


def test_nothing_of_what_the_phone_noted_is_kept():
    sent = from_a_phone()
    assert b"Marta" in sent

    kept = picture_of(upload(sent))

    back = opened(kept)
    assert not back.getexif()
    assert "comment" not in back.info
    assert b"Marta" not in kept.content
    assert b"Exif" not in kept.content
    assert b"mill" not in kept.content


def test_a_photo_taken_sideways_stands_upright():
    kept = picture_of(upload(from_a_phone(orientation=6)))  # the camera lay on its left

    back = opened(kept)
    assert (kept.width, kept.height) == back.size == (20, 40)
    assert near(back.getpixel((10, 5)), LEFT)
    assert near(back.getpixel((10, 35)), RIGHT)


def test_a_large_photo_is_kept_small():
    kept = picture_of(upload(written(painted(4000, 3000))))

    assert (kept.width, kept.height) == (LONGEST_SIDE, 1200)
    assert near(opened(kept).getpixel((100, 600)), LEFT)


def test_a_large_photo_taken_sideways_is_upright_too():
    notes = Image.Exif()
    notes[0x0112] = 6

    kept = picture_of(upload(written(painted(4000, 3000), exif=notes)))

    assert (kept.width, kept.height) == (1200, LONGEST_SIDE)
    assert near(opened(kept).getpixel((600, 100)), LEFT)


def test_what_is_clear_is_paper():
    picture = Image.new("RGBA", (10, 10), (0, 0, 0, 0))

    kept = picture_of(upload(written(picture, "PNG")))

    assert near(opened(kept).getpixel((5, 5)), (255, 255, 255))


def test_the_wrong_name_and_kind_say_nothing():
    sent = upload(written(painted(), "PNG"), "harvest.pdf", "application/pdf")

    assert opened(picture_of(sent)).format == "JPEG"


def test_of_a_moving_picture_the_first_is_kept():
    second = Image.new("RGB", (40, 20), "white")
    sent = written(painted(), "WEBP", save_all=True, append_images=[second])

    back = opened(picture_of(upload(sent)))

    assert getattr(back, "n_frames", 1) == 1
    assert near(back.getpixel((5, 10)), LEFT)


def test_of_two_pictures_in_a_phones_file_the_first_is_kept():
    sent = written(painted(), "MPO", save_all=True, append_images=[painted()])

    assert opened(picture_of(upload(sent))).size == (40, 20)


# What hides behind one --------------------------------------------------------------------
@pytest.mark.parametrize(
    "hidden",
    [
        pytest.param(lambda p: p + BROWSER_RUNS_THIS, id="behind"),
        pytest.param(lambda p: p + b"PK\x03\x04" + b"x" * 30, id="an archive behind"),
        pytest.param(
            lambda p: p[:2] + b"\xff\xfe" + struct.pack(">H", 41) + BROWSER_RUNS_THIS + p[2:],
            id="in a comment",
        ),
    ],
)
def test_what_hides_in_a_picture_is_not_kept(hidden):
    sent = hidden(written(painted()))

    kept = picture_of(upload(sent))

    assert b"script" not in kept.content
    assert b"PK\x03\x04" not in kept.content
    assert kept.content.endswith(b"\xff\xd9")  # nothing behind its end


def test_a_script_in_the_words_of_a_png_is_not_kept():
    from PIL.PngImagePlugin import PngInfo

    words = PngInfo()
    words.add_text("Title", BROWSER_RUNS_THIS.decode(), zip=True)

    kept = picture_of(upload(written(painted(), "PNG", pnginfo=words)))

    assert b"script" not in kept.content


# What is refused --------------------------------------------------------------------------
def png_that_says(width: int, height: int) -> bytes:
    """A PNG of a few bytes whose head promises so many pixels."""

    def chunk(name: bytes, data: bytes) -> bytes:
        body = name + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    rows = zlib.compress(b"\0" * 10_000)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
    )


SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(b"", id="empty"),
        pytest.param(b"not a picture at all", id="words"),
        pytest.param(SVG, id="svg"),
        pytest.param(b"<?xml version='1.0'?>" + SVG, id="svg with a head"),
        pytest.param(b"\xff\xd8\xff\xe0" + b"\0" * 40, id="the first bytes of a JPEG"),
        pytest.param(written(painted(), "GIF"), id="gif"),
        pytest.param(written(painted(), "BMP"), id="bmp"),
        pytest.param(written(painted(), "TIFF"), id="tiff"),
        pytest.param(written(painted(), "PDF"), id="pdf"),
        pytest.param(b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n", id="postscript"),
        pytest.param(written(painted(400, 400))[:-300], id="cut off"),
        pytest.param(written(painted(400, 400), "PNG")[:-40], id="a PNG cut off"),
        pytest.param(written(painted(400, 400), "WEBP")[:-40], id="a WebP cut off"),
    ],
)
def test_what_is_no_photo_is_refused(content):
    with pytest.raises(Refused, match="cannot be read as a picture") as refusal:
        picture_of(upload(content))

    assert refusal.value.field == "photos"


@pytest.mark.parametrize("size", [(8_000, 6_250), (40_000, 40_000), (2**31 - 1, 2**31 - 1)])
def test_a_picture_that_would_not_fit_is_refused_before_it_is_unpacked(size, monkeypatch):
    monkeypatch.setattr(Image.Image, "thumbnail", lambda *_args: pytest.fail("unpacked"))

    with pytest.raises(Refused, match=r"million are the most|cannot be read"):
        picture_of(upload(png_that_says(*size)))


def test_fifty_million_pixels_of_a_phone_are_refused_with_the_figure():
    sent = written(Image.new("L", (8_000, 6_250)), quality=1)

    with pytest.raises(Refused, match="8000 × 6250 pixels; 40 million"):
        picture_of(upload(sent))


def test_words_that_unpack_without_end_are_refused():
    body = b"zTXt" + b"Comment\0\0" + zlib.compress(b"a" * 200_000_000, 9)
    bomb = struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
    sent = written(painted(), "PNG")

    with pytest.raises(Refused, match="cannot be read"):
        picture_of(upload(sent[:33] + bomb + sent[33:]))


def test_too_many_bytes_are_refused_unread():
    class Large:
        size = MOST_BYTES + 1

        def read(self, *_args):
            pytest.fail("read")

    with pytest.raises(Refused, match="12 MB"):
        picture_of(Large())


# Keeping it -------------------------------------------------------------------------------
@pytest.mark.django_db
def test_a_photo_is_kept_with_its_size(member):
    kept = keep_photo(picture=picture_of(upload(from_a_phone())), by=member, caption=" a  bed ")

    photo = Photo.objects.get(pk=kept.pk)
    assert (photo.width, photo.height, photo.content_type) == (40, 20, "image/jpeg")
    assert bytes(photo.content).startswith(b"\xff\xd8")
    assert photo.caption == "a bed"


@pytest.mark.django_db
def test_a_caption_has_an_end(member):
    with pytest.raises(Refused, match="250"):
        keep_photo(picture=picture_of(upload(from_a_phone())), by=member, caption="x" * 251)
