"""A lower service tells, an upper app follows."""

from __future__ import annotations

import pytest

from library import hooks


@pytest.fixture
def event(monkeypatch):
    """An event that nobody follows yet, and that is forgotten afterwards."""
    monkeypatch.setitem(hooks._followers, "tried", [])
    return "tried"


def test_who_follows_an_event_is_called_with_what_is_told_of_it(event):
    heard = []
    hooks.follow(event, lambda *, lot: heard.append(lot))

    answers = hooks.tell(event, lot="L00001-1")

    assert (heard, answers) == (["L00001-1"], [])


def test_following_twice_is_being_called_once(event):
    def follower() -> str:
        return "done"

    hooks.follow(event, follower)
    hooks.follow(event, follower)

    assert hooks.tell(event) == ["done"]


def test_an_event_that_nobody_follows_is_told_to_nobody():
    assert hooks.tell("nobody follows this") == []


def test_a_follower_that_fails_fails_the_service_that_told(event):
    def refuse() -> None:
        raise ValueError("no")

    hooks.follow(event, refuse)

    with pytest.raises(ValueError, match="no"):
        hooks.tell(event)
