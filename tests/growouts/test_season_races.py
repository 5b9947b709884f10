"""Offers, plantings and closing at one moment, on PostgreSQL; each beside a control.

A control takes away the one lock that guards the rule and asks the same question: were it to
pass, the test beside it would show nothing.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from unittest import mock

import pytest
from django.db import connection, connections
from django.db.models import QuerySet

from accounts.models import Garden, Member
from accounts.services import remove_garden
from library.errors import Conflict, Refused
from library.growouts.models import GardenOffer, GrowerOffer, OwnPlanting, Season
from library.growouts.services import plantings, seasons
from library.growouts.services.rooms import Room
from tests.growouts.conftest import TODAY

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.postgres,
    pytest.mark.skipif(connection.vendor != "postgresql", reason="needs PostgreSQL"),
]


def at_once(*works: Callable[[], object]) -> list[object]:
    """Run the works in threads that start together; what each gave, or what stopped it."""
    gate = threading.Barrier(len(works))
    answers: list[object] = [None] * len(works)

    def run(place: int) -> None:
        try:
            gate.wait()
            answers[place] = works[place]()
        except Exception as error:
            answers[place] = error
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(place,)) for place in range(len(works))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return answers


@contextmanager
def meeting(owner: object, name: str, parties: int) -> Iterator[None]:
    """Let ``parties`` threads come through a function before any of them goes on, if the locks
    let them: so that a control fails always and not now and then.
    """
    gate = threading.Barrier(parties)
    real = getattr(owner, name)

    def slowly(*args, **kwargs):
        answer = real(*args, **kwargs)
        with suppress(threading.BrokenBarrierError):
            gate.wait(timeout=1)
        return answer

    with mock.patch.object(owner, name, slowly):
        yield


@contextmanager
def without_locking(*models: type) -> Iterator[None]:
    """The control: rows of the models are read without being locked."""
    real = QuerySet.select_for_update

    def unlocked(self, *args, **kwargs):
        return self if self.model in models else real(self, *args, **kwargs)

    with mock.patch.object(QuerySet, "select_for_update", unlocked):
        yield


@pytest.fixture
def plot(member, make_garden) -> Garden:
    return make_garden(member)


def offer(season: Season, member: Member, gardens: list[Garden]) -> GrowerOffer:
    return seasons.offer_gardens(
        season=season,
        member=member,
        gardens=[Room(garden, room_m2=10) for garden in gardens],
        most=len(gardens),
        on=TODAY,
        by=member,
    )


# Two offers of one grower -----------------------------------------------------------------


def two_offers(season, member, make_garden) -> list[object]:
    """Two phones, each with another garden, over an offer that is there already."""
    first, second = make_garden(member), make_garden(member)
    with meeting(seasons, "_keep_promised", 2), meeting(QuerySet, "delete", 2):
        return at_once(
            lambda: offer(season, member, [first]), lambda: offer(season, member, [second])
        )


def test_of_two_offers_at_once_one_whole_one_is_left(season, member, plot, make_garden):
    offer(season, member, [plot])
    answers = two_offers(season, member, make_garden)

    assert all(isinstance(answer, GrowerOffer) for answer in answers), answers
    assert GrowerOffer.objects.count() == 1
    assert GardenOffer.objects.count() == 1


def test_control_without_locks_the_two_offers_mix(season, member, plot, make_garden):
    offer(season, member, [plot])

    # What one deletes the other has not written yet, so that both gardens stay.
    def only_read(self, *, season, member, defaults):
        return self.get(season=season, member=member), False

    with (
        without_locking(Member, Season),
        mock.patch.object(QuerySet, "update_or_create", only_read),
    ):
        two_offers(season, member, make_garden)

    assert GardenOffer.objects.count() == 2


# The last garden of a season, and its end ------------------------------------------------


def withdraw_and_close(season, member, plot, coordinator) -> list[object]:
    """Closing has read that the season is open; the offer is made again meanwhile."""
    made = offer(season, member, [plot])
    with meeting(seasons, "locked_open", 2):
        return at_once(
            lambda: seasons.withdraw_offer(offer=made, by=member),
            lambda: seasons.close_season(season=season, on=TODAY, by=coordinator),
            lambda: seasons.close_season(season=season, on=TODAY, by=coordinator),
        )


def test_a_season_ends_once(season, member, plot, coordinator):
    answers = withdraw_and_close(season, member, plot, coordinator)

    assert sum(isinstance(answer, Conflict) for answer in answers[1:]) == 1
    assert sum(isinstance(answer, Season) for answer in answers[1:]) == 1
    assert isinstance(answers[0], GrowerOffer | Conflict)


def test_control_without_the_lock_it_ends_twice(season, member, plot, coordinator):
    with without_locking(Season), meeting(seasons, "locked_open", 2):
        answers = at_once(
            *[lambda: seasons.close_season(season=season, on=TODAY, by=coordinator)] * 2
        )

    assert all(isinstance(answer, Season) for answer in answers)


# The last planting that a garden has room for ---------------------------------------------


def two_plantings(plot, member, variety) -> list[object]:
    def plant():
        return plantings.add_planting(garden=plot, year=2026, by=member, variety=variety)

    with (
        mock.patch.object(plantings, "MOST_PLANTINGS", 1),
        meeting(plantings, "_room_for_one", 2),
    ):
        return at_once(plant, plant)


def test_the_last_place_for_a_planting_goes_to_one(plot, member, variety):
    answers = two_plantings(plot, member, variety)

    assert sum(isinstance(answer, Refused) for answer in answers) == 1
    assert OwnPlanting.objects.count() == 1


def test_control_without_the_lock_both_plant(plot, member, variety):
    with without_locking(Member):
        two_plantings(plot, member, variety)

    assert OwnPlanting.objects.count() == 2


# A garden that is removed while it is offered ---------------------------------------------


def remove_and_offer(season, member, plot) -> list[object]:
    with meeting(seasons, "still_there", 2):
        return at_once(
            lambda: offer(season, member, [plot]),
            lambda: remove_garden(garden=plot, by=member),
        )


def test_a_garden_is_offered_and_then_removed_or_removed_and_not_offered(season, member, plot):
    answers = remove_and_offer(season, member, plot)

    assert answers[1] is None
    assert answers[0] is not None
    assert isinstance(answers[0], GrowerOffer | Conflict), answers
    assert not GardenOffer.objects.exists()
    standing = GrowerOffer.objects.filter(withdrawn_at=None)
    assert not standing.exists()


# Opening a season twice -------------------------------------------------------------------


def test_a_year_is_opened_once(coordinator, valley):
    def open_it():
        return seasons.open_season(year=2027, by=coordinator)

    answers = at_once(*[open_it] * 8)

    assert sum(isinstance(answer, Season) for answer in answers) == 1
    assert sum(isinstance(answer, Conflict) for answer in answers) == 7


def test_one_variety_chosen_by_two_coordinators_is_wanted_once(
    season, coordinator, administrator, variety
):
    def want(by, weight):
        return seasons.want_varieties(season=season, varieties=[variety], by=by, weight=weight)

    answers = at_once(lambda: want(coordinator, 2), lambda: want(administrator, 3))

    assert all(isinstance(answer, list) for answer in answers), answers
    assert season.wanted.get().weight in (2, 3)
