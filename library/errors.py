"""What a service says when it cannot do what was asked.

Each error carries one sentence for a person: what is wrong and what would be right. Pages show
it near the field; the API answers with the status named here.
"""

from __future__ import annotations


class Refused(Exception):
    """The request cannot be done as asked (400)."""

    status = 400
    code = "refused"

    def __init__(self, message: str, *, field: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.field = field

    def __str__(self) -> str:
        return str(self.message)


class NotEnough(Refused):
    """The shelf cannot give what was asked for (409)."""

    status = 409
    code = "not_enough"


class Conflict(Refused):
    """The thing was changed or taken by somebody else meanwhile (409)."""

    status = 409
    code = "conflict"


class NotAllowed(Refused):
    """The person may see the thing but not do this to it (403)."""

    status = 403
    code = "not_allowed"
