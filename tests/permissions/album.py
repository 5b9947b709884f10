"""A small photo, as a phone would send it."""

from __future__ import annotations

import io

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image


def plant_photo() -> SimpleUploadedFile:
    out = io.BytesIO()
    Image.new("RGB", (8, 6), "green").save(out, "JPEG")
    return SimpleUploadedFile("plant.jpg", out.getvalue(), "image/jpeg")
