"""A request may be sent again: a key names it, and a retry gets the same answer.

    POST /api/loans/        Idempotency-Key: 5f0c…

The key, the change and the answer are written in one transaction. So whoever sends the same
key again, after a lost connection or at the same moment from another thread, either waits and
gets the first answer, or is the first. An answer that refused (4xx) is not kept: the client may
mend the request and use the key again.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Callable
from functools import partial
from typing import cast

from django.db import transaction
from django.utils.translation import gettext as _
from drf_spectacular.utils import OpenApiParameter
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import IdempotencyKey, Member
from library.errors import Conflict, Refused

KEEP_FOR = dt.timedelta(days=7)
MAX_LENGTH = 80

# For the API's description.
KEY_PARAMETER = OpenApiParameter(
    "Idempotency-Key",
    str,
    OpenApiParameter.HEADER,
    description=(
        "A name for this request, of your own choice, up to 80 printable ASCII characters. "
        "Sent again with the same body, the request does nothing twice and gets the first "
        "answer with the header `Idempotent-Replay: true`. Kept for seven days."
    ),
)


class IdempotentMixin:
    """For viewsets: every POST (create and extra actions) honours ``Idempotency-Key``."""

    post: Callable[..., Response]

    def initial(self, request: Request, *args, **kwargs) -> None:
        # Who it is and whether they may, first.
        super().initial(request, *args, **kwargs)  # type: ignore[misc]
        key = request.headers.get("Idempotency-Key")
        if request.method != "POST" or key is None or not hasattr(self, "post"):
            return  # without a handler for POST, DRF answers 405 itself
        # DRF takes the handler from the view after this hook, so it can be wrapped here.
        self.post = partial(answer_once, handler=self.post, key=checked_key(key))


def answer_once(
    request: Request, *args, handler: Callable[..., Response], key: str, **kwargs
) -> Response:
    """The handler's answer, made once for each member and key."""
    fingerprint = fingerprint_of(request)
    with transaction.atomic():
        row = _take(member=cast(Member, request.user), key=key, fingerprint=fingerprint)
        if row.status is not None:
            return _answer_again(row, fingerprint)
        response = handler(request, *args, **kwargs)
        if response.status_code >= 400:
            transaction.set_rollback(True)
        else:
            _keep(row, response)
    return response


def forget_old_keys(*, now: dt.datetime, keep_for: dt.timedelta = KEEP_FOR) -> int:
    """Delete keys older than ``keep_for``; how many there were."""
    return IdempotencyKey.objects.filter(created_at__lt=now - keep_for).delete()[0]


def checked_key(key: str) -> str:
    if 0 < len(key) <= MAX_LENGTH and key.isascii() and key.isprintable():
        return key
    raise Refused(
        _(
            "The Idempotency-Key must be 1 to %(most)d printable ASCII characters; a UUID is "
            "a good choice."
        )
        % {"most": MAX_LENGTH},
        field="Idempotency-Key",
    )


def fingerprint_of(request: Request) -> str:
    """A digest of what was asked: where, and with which data in whatever order of keys."""
    asked = [request.get_full_path(), request.data, _digests_of_files(request)]
    text = json.dumps(asked, sort_keys=True, default=str)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def _digests_of_files(request: Request) -> list[list[str]]:
    digests = []
    for name, file in sorted(request.FILES.items()):
        digests.append([name, hashlib.file_digest(file, "sha256").hexdigest()])
        file.seek(0)
    return digests


def _take(*, member: Member, key: str, fingerprint: str) -> IdempotencyKey:
    """The key's row: fresh when we are first, answered when somebody was before us.

    On PostgreSQL the insert waits for another transaction that holds the same key; on SQLite
    writers wait at BEGIN. Either way the row that is then read is committed, or ours.
    """
    row = IdempotencyKey(member=member, key=key, fingerprint=fingerprint)
    IdempotencyKey.objects.bulk_create([row], ignore_conflicts=True)
    kept = IdempotencyKey.objects.filter(member=member, key=key).first()
    if kept is None:  # purged between the two statements
        raise Conflict(_("This key has just expired. Send the request again with a new key."))
    return kept


def _answer_again(row: IdempotencyKey, fingerprint: str) -> Response:
    if row.fingerprint != fingerprint:
        raise Conflict(
            _(
                "This Idempotency-Key was used for another request. Use a new key for a new "
                "request."
            ),
            field="Idempotency-Key",
        )
    headers = {"Idempotent-Replay": "true"}
    if row.location:
        headers["Location"] = row.location
    return Response(row.body, status=row.status, headers=headers)


def _keep(row: IdempotencyKey, response: Response) -> None:
    row.status = response.status_code
    # What the client saw: decimals, dates and lazy text as the renderer writes them.
    row.body = (
        None if response.data is None else json.loads(JSONRenderer().render(response.data))
    )
    row.location = response.headers.get("Location", "")
    row.save(update_fields=["status", "body", "location"])
