"""The pages' other languages, compiled from ``locale/*/LC_MESSAGES/*.po`` at start.

No compiled catalogue is kept with the source, and no machine needs gettext's own programs.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from pathlib import Path


def compiled(sources: Path, into: Path) -> Path:
    """The folder under ``into`` with a ``.mo`` for each ``.po`` under ``sources``.

    It is named for what the sources hold, so it is written once for each state of them, and
    one state is never taken for another, whatever the files' dates say. Entries that are
    fuzzy are left out. Several processes may come here at once.
    """
    files = sorted(sources.glob("*/LC_MESSAGES/*.po"))
    digest = hashlib.sha256()
    for file in files:
        digest.update(str(file.relative_to(sources)).encode())
        digest.update(file.read_bytes())
    folder = into / digest.hexdigest()[:20]
    for file in files:
        target = folder / file.relative_to(sources).with_suffix(".mo")
        if not target.exists():
            _compile(file, target)
    return folder


def _compile(source: Path, target: Path) -> None:
    # Imported here: it is needed only after a change of the sources.
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    with source.open("rb") as file:
        catalog = read_po(file)
    target.parent.mkdir(parents=True, exist_ok=True)
    # Written beside and moved: nobody ever reads half a catalogue.
    handle, name = tempfile.mkstemp(dir=target.parent)
    with os.fdopen(handle, "wb") as file:
        write_mo(file, catalog)
    os.chmod(name, 0o644)
    os.replace(name, target)
