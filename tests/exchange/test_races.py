"""Two desks and one chain. On PostgreSQL with real threads, beside a control."""

from __future__ import annotations

import pytest
from django.db import connection  # noqa: F401, the condition of skipif reads it
from django.utils import timezone

from library.exchange import services
from library.exchange.models import ChainImport
from library.stock.checks import problems
from library.stock.models import Lot
from tests.stock.test_races import all_at_once

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif("connection.vendor != 'postgresql'", reason="needs PostgreSQL"),
]


@pytest.fixture
def waiting(desk, file):
    """Two files of one chain that wait side by side."""
    today = timezone.localdate()
    one, _seen = services.preview_chain(content=file.text(), by=desk, on=today)
    other, _seen = services.preview_chain(content=file.text() + "\n", by=desk, on=today)
    return one, other


def receive(chain_import, desk):
    mine = ChainImport.objects.get(pk=chain_import.pk)
    services.receive_chain(chain_import=mine, by=desk, on=timezone.localdate(), seeds=50)


def test_one_import_is_received_once(waiting, desk):
    one, _other = waiting

    got = all_at_once(*[lambda: receive(one, desk)] * 6)

    assert got == 1
    assert Lot.objects.kept_here().count() == 1
    assert Lot.objects.filter(origin="elsewhere").count() == 3
    assert list(problems()) == []


def test_two_files_of_one_chain_are_not_both_received(waiting, desk):
    got = all_at_once(*[lambda row=row: receive(row, desk) for row in waiting])

    assert got == 1
    assert Lot.objects.kept_here().count() == 1
    assert Lot.objects.filter(origin="elsewhere").count() == 3
    assert list(problems()) == []


def test_control_without_looking_who_was_first_more_seed_comes_in_than_came(
    waiting, desk, monkeypatch
):
    """The lots elsewhere are known already, so that only the last check is left."""
    first, _other = waiting
    receive(first, desk)
    again = [
        ChainImport.objects.create(content=first.content, brought_by=desk) for _ in range(2)
    ]
    monkeypatch.setattr(services, "_check_first", lambda *args: None)

    assert all_at_once(*[lambda row=row: receive(row, desk) for row in again]) == 2


def test_with_it_one_of_them_does(waiting, desk):
    first, _other = waiting
    receive(first, desk)
    again = [
        ChainImport.objects.create(content=first.content, brought_by=desk) for _ in range(2)
    ]

    assert all_at_once(*[lambda row=row: receive(row, desk) for row in again]) == 1


def test_receiving_and_leaving_are_one_answer(waiting, desk):
    one, _other = waiting

    def drop():
        services.drop_chain(chain_import=ChainImport.objects.get(pk=one.pk), by=desk)

    assert all_at_once(lambda: receive(one, desk), drop) == 1
    one.refresh_from_db()
    assert (one.state == "received") == Lot.objects.exists()
