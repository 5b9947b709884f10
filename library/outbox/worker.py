"""What this process is as a deliverer of mail: its name, and two flags its threads share."""

from __future__ import annotations

import os
import socket
import threading

# Set after a commit that queued mail; the embedded runner waits on it.
woken = threading.Event()
# Set when the process should end; a sweep finishes its current mail and returns.
stopping = threading.Event()

_names: list[str] = []


def name() -> str:
    """Whose claims are this process's: a Celery worker's by machine and process."""
    return _names[-1] if _names else f"{socket.gethostname()[:40]}-{os.getpid()}"


def be_known_as(fixed: str) -> None:
    """A name that outlives the process, for the sole runner, which frees its own claims."""
    _names.append(fixed)
