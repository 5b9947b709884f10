"""Mail that is written with its cause, delivered outside of it, and never twice on purpose.

A message is claimed by a guarded UPDATE, so that of any number of workers one delivers it. No
transaction is open while the mail server is spoken to. A worker that dies leaves a claim that
``hand_back_stale`` frees. The one moment in which a mail can go twice is between the server's
"250 accepted" and our next statement; its Message-ID is then the same.
"""

from __future__ import annotations

import datetime as dt
import logging
import random
import uuid
from functools import partial

from django.conf import settings
from django.db import transaction
from django.db.models import F
from django.utils import timezone

from library.outbox import sources
from library.outbox import worker as this_process
from library.outbox.delivery import Outcome, meaning, send
from library.outbox.models import Message

log = logging.getLogger(__name__)

# Longer than the slowest conversation with a mail server can take.
CLAIM_LASTS = dt.timedelta(minutes=15)
LONGEST_WAIT = dt.timedelta(hours=6)
MOST_ATTEMPTS = 16  # with the waits below, about two days
SWEPT_AT_ONCE = 50
SWEPT_FROM = 1000  # the longest waiting, of which each sweep picks some
KEPT_FOR = dt.timedelta(days=30)


def queue_mail(
    *,
    to: str,
    subject: str,
    text: str,
    message_key: str,
    html: str = "",
    source: str = "",
    sender: str = "",
    headers: dict[str, str] | None = None,
    not_before: dt.datetime | None = None,
) -> Message:
    """Write one mail, delivered after the transaction; a repeated key writes nothing new."""
    with transaction.atomic():
        message, made = Message.objects.get_or_create(
            message_key=message_key,
            defaults={
                "to": to,
                "subject": " ".join(subject.split())[:250],
                "text": text,
                "html": html,
                "source": source,
                "sender": sender,
                "headers": headers or {},
                "not_before": not_before or timezone.now(),
            },
        )
        if made:
            transaction.on_commit(partial(announce, message.pk), robust=True)
    return message


def announce(message_id: int) -> None:
    """Tell whoever delivers that there is mail. The sweep finds it if this is lost."""
    if not settings.REDIS_URL:
        this_process.woken.set()
        return
    from library.outbox.tasks import deliver_mail

    try:
        deliver_mail.apply_async([message_id], retry=False)
    except Exception as error:  # whatever a broker that is down raises
        log.warning(
            "The broker was not told of mail %s (%s).", message_id, type(error).__name__
        )


def announce_many() -> None:
    """Tell whoever delivers that there is much mail, once it is written; else the sweep that
    comes by itself every few seconds finds it.
    """
    if not settings.REDIS_URL:
        this_process.woken.set()
        return
    from library.outbox.tasks import sweep_outbox

    try:
        sweep_outbox.apply_async(retry=False)
    except Exception as error:  # whatever a broker that is down raises
        log.warning("The broker was not told of mail (%s).", type(error).__name__)


def wake() -> None:
    """Tell the embedded runner that there is work; served mode looks every few seconds."""
    if not settings.REDIS_URL:
        this_process.woken.set()


def deliver_next(*, worker: str) -> bool:
    """Claim and deliver one ready mail; False when none is ready."""
    return _deliver_next(worker) is not None


def deliver(*, message_id: int, worker: str) -> Outcome:
    """Deliver this mail unless it is gone, not ready, or somebody else's."""
    message = _claim(message_id, worker)
    if message is None:
        return Outcome.TAKEN
    outcome, error = _attempt(message)
    _write_down(message, outcome, error)
    return outcome


def sweep(*, worker: str) -> int:
    """Deliver all that is ready, and return how many were handled.

    Ends early when the process is to stop, or when no mail gets through: a server that is down
    should not be tried for each of five hundred waiting mails.
    """
    hand_back_stale()
    handled = 0
    while ready := _some_ready():
        for pk in ready:
            if this_process.stopping.is_set():
                return handled
            outcome = deliver(message_id=pk, worker=worker)
            handled += outcome is not Outcome.TAKEN
            if outcome is Outcome.UNREACHABLE:
                return handled
    return handled


def _some_ready() -> list[int]:
    """Ready mail, picked by chance among the longest waiting: whoever reaches for what another
    sweeper has delivered meanwhile pays a statement for nothing.
    """
    ready = Message.objects.ready(timezone.now()).order_by("not_before", "pk")
    keys = list(ready.values_list("pk", flat=True)[:SWEPT_FROM])
    return random.sample(keys, min(SWEPT_AT_ONCE, len(keys)))


def hand_back_stale(*, at: dt.datetime | None = None) -> int:
    """Free the mail whose deliverer died; give up on what was tried too often."""
    at = at or timezone.now()
    stale = Message.objects.stale(at - CLAIM_LASTS)
    given_up = stale.filter(attempts__gte=MOST_ATTEMPTS).update(
        failed_at=at, last_error="Every worker that tried to deliver this mail died."
    )
    return given_up + stale.update(claimed_at=None, claimed_by="")


def hand_back(*, worker: str) -> int:
    """Free what this worker claimed and did not finish. Only the worker itself may ask it."""
    mine = Message.objects.claimed().filter(claimed_by__startswith=f"{worker}/")
    return mine.update(claimed_at=None, claimed_by="")


def try_again(*, message: Message) -> bool:
    """Let a mail that was given up wait for delivery again; False when it was not given up."""
    failed = Message.objects.filter(pk=message.pk, failed_at__isnull=False)
    again = failed.exclude(to="").update(
        failed_at=None, claimed_at=None, claimed_by="", attempts=0, not_before=timezone.now()
    )
    return again == 1


def forget_old_mail(*, at: dt.datetime | None = None) -> int:
    """Empty mail that ended a month ago. The key stays, so it is not written again."""
    old = Message.objects.finished_before((at or timezone.now()) - KEPT_FOR)
    return old.exclude(to="").update(
        to="", sender="", subject="", text="", html="", headers={}, last_error=""
    )


def _deliver_next(worker: str) -> Outcome | None:
    while True:
        ready = Message.objects.ready(timezone.now()).order_by("not_before", "pk")
        pk = ready.values_list("pk", flat=True).first()
        if pk is None:
            return None
        outcome = deliver(message_id=pk, worker=worker)
        if outcome is not Outcome.TAKEN:
            return outcome


def _claim(pk: int, worker: str) -> Message | None:
    now = timezone.now()
    token = f"{worker}/{uuid.uuid4().hex[:8]}"
    # Durable: refuses to run inside a caller's transaction, which would stay open during SMTP.
    with transaction.atomic(durable=True):
        claimed = Message.objects.ready(now).filter(pk=pk)
        if not claimed.update(claimed_at=now, claimed_by=token, attempts=F("attempts") + 1):
            return None
        return Message.objects.get(pk=pk)


def _attempt(message: Message) -> tuple[Outcome, str]:
    try:
        address = _today(message)
    except sources.NotNow as later:
        message.not_before = later.until
        return Outcome.LATER, ""
    except Exception as error:  # the owner could not answer; ask again later
        return Outcome.DEFERRED, _trouble(message, error)
    if not address:
        return Outcome.DROPPED, ""
    try:
        send(message, address)
    except Exception as error:  # one mail's trouble is written down, never the worker's end
        return meaning(error), _trouble(message, error)
    return Outcome.SENT, ""


def _today(message: Message) -> str | None:
    """Where the mail goes; what its owner says in other words today, it says so."""
    answer = sources.current_address(message.source, message.to)
    if not isinstance(answer, sources.Letter):
        return answer
    message.subject, message.text, message.html = answer.subject, answer.text, answer.html
    message.headers, message.to = answer.headers, answer.address
    return answer.address


def _trouble(message: Message, error: Exception) -> str:
    """What is kept of it; the log gets no more than the kind, since answers name addresses."""
    log.warning("Mail %s was not delivered (%s).", message.pk, type(error).__name__)
    return f"{type(error).__name__}: {error}"[:2000]


def _write_down(message: Message, outcome: Outcome, error: str) -> None:
    # Only while it waits: a claim that was handed back meanwhile may have ended elsewhere.
    row = Message.objects.waiting().filter(pk=message.pk)
    now = timezone.now()
    if outcome is Outcome.SENT:
        # The person has it now; here it may hold a sign-in link, so it is forgotten.
        row.update(sent_at=now, text="", html="", last_error="")
    elif outcome is Outcome.DROPPED:
        row.update(dropped_at=now, text="", html="")
    elif outcome is Outcome.LATER:  # no attempt was made
        row.filter(claimed_by=message.claimed_by).update(
            claimed_at=None,
            claimed_by="",
            attempts=F("attempts") - 1,
            not_before=message.not_before,
        )
    elif outcome is Outcome.FAILED or message.attempts >= MOST_ATTEMPTS:
        row.update(failed_at=now, last_error=error, to=message.to)
    else:
        row.filter(claimed_by=message.claimed_by).update(
            claimed_at=None,
            claimed_by="",
            last_error=error,
            not_before=now + spread(wait_after(message.attempts)),
        )


def spread(wait: dt.timedelta) -> dt.timedelta:
    """Up to a quarter longer, by chance: what failed together does not come back together."""
    return wait * random.uniform(1, 1.25)  # noqa: S311 (no secret)


def wait_after(attempts: int) -> dt.timedelta:
    """One minute after the first attempt, then twice as long each time, at most six hours."""
    return min(dt.timedelta(minutes=2 ** (attempts - 1)), LONGEST_WAIT)
