"""A note removed with one press comes back with one, as it was."""

from __future__ import annotations

import pytest
from django.forms.models import model_to_dict
from django.urls import reverse

from library.catalogue.models import SeasonNote
from library.catalogue.services import put_note_back, remove_note, write_note
from library.errors import NotAllowed
from library.kept import as_kept

pytestmark = pytest.mark.django_db


@pytest.fixture
def note(member, variety):
    return write_note(
        variety=variety, by=member, year=2025, text="Good.", on=variety.added_at.date()
    )


def test_reading_the_address_that_removes_a_note_removes_nothing(client, member, note):
    client.force_login(member)

    response = client.get(reverse("season-note-remove", args=[note.pk]))

    assert (response.status_code, SeasonNote.objects.count()) == (200, 1)


@pytest.mark.parametrize("who", ["member", "coordinator"])
def test_a_note_removed_with_one_press_comes_back_with_one(client, request, note, who):
    client.force_login(request.getfixturevalue(who))
    before, back = model_to_dict(note), reverse("season-note-put-back")

    page = client.post(reverse("season-note-remove", args=[note.pk]), follow=True)
    gone = not SeasonNote.objects.exists()
    again = client.post(back, follow=True)

    assert gone
    assert f'<form method="post" action="{back}">' in page.content.decode()
    assert "It is back, as it was." in again.content.decode()
    assert model_to_dict(SeasonNote.objects.get()) == before
    assert SeasonNote.objects.get().written_at == note.written_at


def test_a_note_of_another_member_is_put_back_by_nobody_but_a_coordinator(
    member, other_member, note
):
    kept = as_kept([note])
    remove_note(note=note, by=member)

    with pytest.raises(NotAllowed, match="by its author or by a coordinator"):
        put_note_back(kept=kept, by=other_member)

    assert not SeasonNote.objects.exists()


def test_what_was_taken_away_elsewhere_is_not_put_back_here(client, desk, note):
    """Each address puts back its own: the last thing may be of another kind."""
    client.force_login(note.author)
    client.post(reverse("season-note-remove", args=[note.pk]))

    page = client.post(reverse("own-garden-put-back"), follow=True).content.decode()
    client.post(reverse("season-note-put-back"))

    assert "There is nothing to put back any more." in page
    assert SeasonNote.objects.exists()
