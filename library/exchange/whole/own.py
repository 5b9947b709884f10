"""A member's own data in one archive, to take along."""

from __future__ import annotations

import datetime as dt
import json
import zipfile
from dataclasses import replace
from typing import Any, BinaryIO

from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import Q
from django.utils.translation import gettext as _

from accounts.export import known_of
from accounts.models import Member
from library.exchange.backup.writing import one_moment
from library.exchange.prov.writing import as_text, chain_document
from library.exchange.whole.table import Table
from library.exchange.whole.tables import TABLES
from library.exchange.whole.writing import describe, write_table
from library.outbox.models import Message
from library.photos.models import Photo
from library.provenance.chain import chain_up
from library.stock.models import Lot

MOST_CHAINS = 500
ENDINGS = {"image/jpeg": "jpg", "image/png": "png", "image/webp": "webp"}


def write_own(file: BinaryIO, *, member: Member, on: dt.date) -> None:
    """Everything that concerns the member: the account with gardens and plans, what they
    brought, borrowed, grew, counted and wrote, the chains of their lots, their photos, and the
    mail that is still kept. What they wrote is theirs, so nothing of it is left out.
    """
    with one_moment(), zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("account.json", _json(known_of(member)))
        tables = [_as_written(table) for table in TABLES if table.mine]
        for table in tables:
            write_table(archive, table, table.read(table.rows_of(member)))
        describe(archive, tables, title=member.display_name, on=on, about=_about())
        _chains(archive, member)
        _photos(archive, member)
        archive.writestr("mail.json", _json(_mail(member)))


def _as_written(table: Table) -> Table:
    """The notes that only the member reads are the member's too."""
    everything = table.model.objects.all
    return replace(table, rows=everything) if table.name == "notes" else table


def _chains(archive: zipfile.ZipFile, member: Member) -> None:
    lots = Lot.objects.filter(Q(custodian=member) | Q(grower=member)).order_by("-pk")
    for lot in lots[:MOST_CHAINS]:
        archive.writestr(f"chains/{lot.number}.json", as_text(chain_document(chain_up(lot))))


def _photos(archive: zipfile.ZipFile, member: Member) -> None:
    for photo in Photo.objects.filter(added_by=member).order_by("pk").iterator(chunk_size=10):
        ending = ENDINGS.get(photo.content_type, "bin")
        archive.writestr(f"photos/{photo.identifier}.{ending}", bytes(photo.content))


def _mail(member: Member) -> list[Any]:
    kept = Message.objects.filter(to=member.email).order_by("pk")
    return list(kept.values("subject", "text", "created_at", "sent_at"))


def _json(told: Any) -> str:
    return json.dumps(told, indent=1, ensure_ascii=False, cls=DjangoJSONEncoder)


def _about() -> str:
    return _(
        "What this seed library keeps of you. account.json: your account, gardens, offers and "
        "plans. csv/ and json/: the tables below, each twice; in csv/ text that a spreadsheet "
        "would calculate has an apostrophe before it. Other people are in them as numbers. "
        "chains/: the ancestry of lots you grew or hold, as W3C PROV-JSON, which another "
        "library can bring in. photos/: the pictures you added. mail.json: letters to you that "
        "are still kept.\n"
    )
