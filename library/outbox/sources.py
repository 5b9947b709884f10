"""Who is asked, right before delivery, whether a mail is still wanted and where it goes.

A message's ``source`` is ``"prefix:rest"``. The app that queued it registers a check for its
prefix in ``AppConfig.ready``; the check gets the whole source and returns the address of today,
or None when the mail is no longer wanted.
"""

from __future__ import annotations

from collections.abc import Callable

Check = Callable[[str], str | None]

_checks: dict[str, Check] = {}


def register(prefix: str, check: Check) -> None:
    _checks[prefix] = check


def current_address(source: str, otherwise: str) -> str | None:
    """Today's address for ``source``; ``otherwise`` where no app answers for it."""
    check = _checks.get(source.partition(":")[0])
    return check(source) if check else otherwise
