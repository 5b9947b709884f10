"""Two coordinators at once: one plan, one worker, and each grower asked once."""

from __future__ import annotations

import threading
from collections.abc import Callable

import pytest
from django.db import connections
from django.utils import timezone

from library.errors import Conflict, Refused
from library.growouts.models import Commitment, Plan, PlannedPair
from library.growouts.plans.running import claim_next
from library.growouts.services.plans import ask_plan, send_offers
from tests.growouts.conftest import TODAY

pytestmark = pytest.mark.django_db(transaction=True)

THREADS = 6


def at_once(work: Callable[[], object]) -> list[object]:
    """What each of several threads that start together gets, or is refused."""
    gate, answers = threading.Barrier(THREADS), []

    def run() -> None:
        try:
            gate.wait()
            answers.append(work())
        except Refused as refusal:
            answers.append(refusal)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run) for _n in range(THREADS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert len(answers) == THREADS
    return answers


@pytest.fixture
def offered(make_variety, make_lot, make_wanted, make_member, make_offer, make_garden):
    varieties = [make_variety(crop="drying bean", days_to_maturity=80) for _n in range(3)]
    for variety in varieties:
        make_lot(variety, seeds=900)
        make_wanted(variety)
    members = [make_member(f"grower {n}") for n in range(3)]
    for n, member in enumerate(members):
        make_offer(member, garden=make_garden(member, north_m=2000 * n), room_m2=200)
    return list(zip(varieties, [member.gardens.get() for member in members], strict=True))


def test_of_many_who_ask_one_gets_a_plan(season, offered, coordinator):
    answers = at_once(lambda: ask_plan(season=season, on=TODAY, by=coordinator))

    assert sum(isinstance(answer, Plan) for answer in answers) == 1
    assert sum(isinstance(answer, Conflict) for answer in answers) == THREADS - 1
    assert Plan.objects.count() == 1


def test_of_many_workers_one_takes_a_plan(season, offered, coordinator):
    plan = ask_plan(season=season, on=TODAY, by=coordinator)

    answers = at_once(lambda: claim_next(worker=threading.current_thread().name))

    taken = [answer for answer in answers if answer is not None]
    assert [one.pk for one in taken] == [plan.pk]
    assert Plan.objects.get().worker == taken[0].worker


def test_of_many_who_send_each_grower_is_asked_once(season, offered, coordinator):
    plan = Plan.objects.create(
        season=season, state="done", seconds=1, finished_at=timezone.now()
    )
    for variety, garden in offered:
        PlannedPair.objects.create(plan=plan, variety=variety, garden=garden)

    answers = at_once(lambda: send_offers(plan=plan, on=TODAY, by=coordinator))

    assert sum(len(sent) for sent in answers) == len(offered)
    assert not any(sent.refused for sent in answers)
    assert Commitment.objects.waiting().count() == len(offered)
