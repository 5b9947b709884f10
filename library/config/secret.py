"""The key that signs sessions: made at first start, kept with mode 600."""

from __future__ import annotations

import os
import secrets
from pathlib import Path


def secret_key(path: Path) -> str:
    """The key kept at ``path``; made there if missing, safe when two start at once."""
    try:
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return _kept(path)
    with os.fdopen(descriptor, "w") as file:
        file.write(secrets.token_urlsafe(50))
    return _kept(path)


def _kept(path: Path) -> str:
    key = path.read_text().strip()
    if len(key) < 50:
        raise RuntimeError(
            f"The secret key in {path} is empty or too short. Delete the file to have a new "
            "one made; everyone will have to sign in again."
        )
    return key
