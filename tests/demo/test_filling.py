"""Making the demo: where nobody lives, all or nothing, and the same each time."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from accounts.models import Garden, Member
from library.catalogue.models import Variety
from library.demo.services import fill
from library.errors import Refused
from library.outbox.models import Message
from library.stock.models import Lot, StoragePlace
from tests.demo.conftest import TODAY, shelves, when_early


def test_the_same_today_makes_the_same_shelves(lived, lived_before):
    assert lived.shelves == lived_before
    assert len(lived.shelves) > 1000


def test_one_member_is_enough_to_refuse(member):
    with pytest.raises(Refused, match="members or seed in this database already"):
        fill(today=TODAY)

    assert Member.objects.count() == 1


def test_one_card_is_enough_to_refuse(make_variety):
    card = make_variety()
    Variety.objects.update(added_by=None)
    Member.objects.all().delete()

    with pytest.raises(Refused, match="members or seed in this database already"):
        fill(today=TODAY)

    assert Variety.objects.get() == card


def test_a_day_to_come_is_refused(db):
    tomorrow = timezone.localdate() + dt.timedelta(days=2)

    with pytest.raises(Refused, match="ends today or earlier"):
        fill(today=tomorrow)


def test_killed_half_way_it_leaves_nothing_and_had_done_the_same(lived, db):
    before: list[tuple] = []
    said: list[str] = []

    def stop() -> None:
        before.extend(shelves())
        raise KeyboardInterrupt

    def hear(sentence: str) -> None:
        said.append(sentence)
        when_early(stop)(sentence)

    with pytest.raises(KeyboardInterrupt):
        fill(today=TODAY, progress=hear)

    assert len(said) == 6
    assert len(before) > 100
    assert before == lived.early_shelves
    for kind in (Member, Garden, Variety, Lot, StoragePlace, Message):
        assert kind.objects.count() == 0
