"""The key that signs sessions: made at first start, kept with mode 600."""

from __future__ import annotations

import os
import secrets
import tempfile
from contextlib import suppress
from pathlib import Path


def secret_key(path: Path) -> str:
    """The key kept at ``path``; made there if missing, safe when two start at once."""
    if not path.exists():
        _make(path)
    return _kept(path)


def _make(path: Path) -> None:
    """Written whole under another name first: nobody reads a key that is half there."""
    descriptor, draft = tempfile.mkstemp(dir=path.parent)  # mode 600
    with os.fdopen(descriptor, "w") as file:
        file.write(secrets.token_urlsafe(50))
    with suppress(FileExistsError):  # somebody else was first: theirs is the key
        os.link(draft, path)
    os.unlink(draft)


def _kept(path: Path) -> str:
    key = path.read_text().strip()
    if len(key) < 50:
        raise RuntimeError(
            f"The secret key in {path} is empty or too short. Delete the file to have a new "
            "one made; everyone will have to sign in again."
        )
    return key
