"""Making and revoking a calendar's address, and bringing its entries up to date."""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets

from django.db import transaction
from django.db.models import F
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from accounts.middleware import zone_of
from accounts.models import Community, Member
from library.calendars.models import Entry, Feed
from library.calendars.wanted import Wanted, wanted_for
from library.errors import NotAllowed, Refused

SECRET_BYTES = 24
COMPARED_EVERY = dt.timedelta(minutes=5)
CANCELLED_FOR = dt.timedelta(days=30)
TOLD = ["due_on", "title", "detail", "url"]


@transaction.atomic
def make_feed(*, member: Member) -> tuple[Feed, str]:
    """A new address and its secret, which cannot be had again; an old address ends."""
    member = Member.objects.select_for_update().get(pk=member.pk)
    if not member.is_approved:
        raise NotAllowed(_("Only an approved member can have a calendar."))
    secret = secrets.token_urlsafe(SECRET_BYTES)
    feed, _made = Feed.objects.update_or_create(
        member=member,
        defaults={"digest": digest_of(secret), "made_at": timezone.now(), "read_at": None},
    )
    return feed, secret


@transaction.atomic
def choose(*, member: Member, style: str, with_role: bool) -> Feed:
    """How what is due is shown, and whether a role's is shown too."""
    if style not in Feed.Style.values:
        raise Refused(_("Choose events or tasks."), field="style")
    feed = Feed.objects.select_for_update().filter(member=member).first()
    if feed is None:
        raise Refused(_("You have no calendar address. Make one first."))
    feed.style, feed.with_role, feed.brought_up_at = style, with_role, None
    feed.save(update_fields=["style", "with_role", "brought_up_at"])
    return feed


@transaction.atomic
def revoke_feed(*, member: Member) -> bool:
    """The address leads nowhere from now on; what it told is forgotten. False: none."""
    # The row first: who brings the entries up to date holds it too.
    if Feed.objects.select_for_update().filter(member=member).first() is None:
        return False
    Entry.objects.of(member).delete()
    gone, _each = Feed.objects.filter(member=member).delete()
    return gone > 0


def forget_calendar_of(*, member: Member, **facts: object) -> None:
    """Somebody leaves."""
    revoke_feed(member=member)


def feed_of(secret: str) -> Feed | None:
    """Whose address it is; None for one that was revoked, of nobody, or of who may not read."""
    feed = Feed.objects.select_related("member").filter(digest=digest_of(secret)).first()
    return feed if feed and feed.member.is_approved else None


def digest_of(secret: str) -> str:
    # Enough of it was drawn by chance that no salt and no slowness is needed.
    return hashlib.sha256(secret.encode()).hexdigest()


def bring_up_to_date(*, feed: Feed, now: dt.datetime) -> bool:
    """Compare the entries with what is due, unless that was just done; True when compared.

    What is due is read before anything is locked. Of two readers at once one writes.
    """
    if feed.brought_up_at is not None and now - feed.brought_up_at < COMPARED_EVERY:
        return False
    member = feed.member
    with translation.override(language_of(member)), timezone.override(zone_of(member)):
        wanted = wanted_for(member, on=timezone.localdate(now), with_role=feed.with_role)
    with transaction.atomic():
        mine = Feed.objects.filter(pk=feed.pk, digest=feed.digest)
        if not mine.filter(brought_up_at=feed.brought_up_at).update(
            brought_up_at=now, read_at=now
        ):
            return False
        _write(member, {entry.key: entry for entry in wanted}, now)
    feed.brought_up_at = feed.read_at = now
    return True


def language_of(member: Member) -> str:
    return member.language or Community.current().language


def _write(member: Member, wanted: dict[tuple[str, str], Wanted], now: dt.datetime) -> None:
    """New entries, changed ones and ended ones, each in one go."""
    Entry.objects.of(member).ended_before(now - CANCELLED_FOR).delete()
    known = {(entry.kind, entry.subject): entry for entry in Entry.objects.of(member)}
    over = [e.pk for key, e in known.items() if key not in wanted and e.ended_at is None]
    Entry.objects.filter(pk__in=over).update(
        ended_at=now, changed_at=now, sequence=F("sequence") + 1
    )
    changed = [
        _as_wanted(entry, wanted[key], now)
        for key, entry in known.items()
        if key in wanted and _differs(entry, wanted[key])
    ]
    Entry.objects.bulk_update(changed, [*TOLD, "sequence", "changed_at", "ended_at"], 200)
    Entry.objects.bulk_create(
        [
            Entry(
                member=member, kind=e.kind, subject=e.subject, made_at=now, changed_at=now,
                **{name: getattr(e, name) for name in TOLD},
            )
            for key, e in wanted.items() if key not in known
        ],
        batch_size=500,
    )  # fmt: skip


def _differs(entry: Entry, wanted: Wanted) -> bool:
    return entry.ended_at is not None or any(
        getattr(entry, name) != getattr(wanted, name) for name in TOLD
    )


def _as_wanted(entry: Entry, wanted: Wanted, now: dt.datetime) -> Entry:
    for name in TOLD:
        setattr(entry, name, getattr(wanted, name))
    entry.sequence += 1
    entry.changed_at, entry.ended_at = now, None
    return entry
