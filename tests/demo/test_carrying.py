"""Every lot of the demo carried away, and nothing of the valley's people with it.

Source of the rules: FAO/Bioversity Multi-Crop Passport Descriptors V.2.1 (2015), as written
down in `fixtures/reference/mcpd.md`.
"""

from __future__ import annotations

import csv
import io

import pytest

from accounts.models import Community, Member
from library.exchange.mcpd.rules import problems_of_file
from library.exchange.mcpd.writing import csv_of
from library.exchange.prov.writing import as_text, chain_document
from library.provenance.chain import chain_up
from library.stock.models import Lot

pytestmark = pytest.mark.usefixtures("demo")


def test_all_lots_keep_the_rules_of_the_passport_descriptors():
    text = "".join(csv_of(Lot.objects.all(), community=Community.current()))
    reader = csv.DictReader(io.StringIO(text, newline=""))
    rows = list(reader)

    assert len(rows) == Lot.objects.kept_here().count() > 0
    assert problems_of_file(reader.fieldnames, rows) == []


def test_no_file_tells_how_to_write_to_anybody():
    files = ["".join(csv_of(Lot.objects.all(), community=Community.current()))]
    files += [
        as_text(chain_document(chain_up(lot))) for lot in Lot.objects.order_by("-pk")[:60]
    ]

    emails = list(Member.objects.values_list("email", flat=True))
    assert emails
    assert [email for email in emails if any(email in text for text in files)] == []
