"""Who is asked, right before delivery, whether a mail is still wanted and where it goes.

A message's ``source`` is ``"prefix:rest"``. The app that queued it registers a check for its
prefix in ``AppConfig.ready``; the check gets the whole source and returns the address of today,
the letter as it is today, or None when the mail is no longer wanted; it raises ``NotNow`` when
the reader is not to be disturbed.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Letter:
    """A mail as it is to be today: put into words anew right before it goes."""

    address: str
    subject: str
    text: str
    html: str = ""
    headers: dict[str, str] = field(default_factory=dict)


class NotNow(Exception):
    """The mail is wanted, but not before ``until``."""

    def __init__(self, until: dt.datetime) -> None:
        super().__init__(until)
        self.until = until


Check = Callable[[str], "str | Letter | None"]

_checks: dict[str, Check] = {}


def register(prefix: str, check: Check) -> None:
    _checks[prefix] = check


def current_address(source: str, otherwise: str) -> str | Letter | None:
    """Today's address for ``source``, or the whole letter; ``otherwise`` where no app answers
    for it.
    """
    check = _checks.get(source.partition(":")[0])
    return check(source) if check else otherwise
