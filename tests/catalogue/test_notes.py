"""Season notes and who may read them."""

import datetime as dt

import pytest
from django.urls import reverse

from library.catalogue.models import SeasonNote
from library.catalogue.services import edit_note, remove_note, write_note
from library.errors import NotAllowed, Refused

TODAY = dt.date(2026, 6, 1)


@pytest.fixture
def make_note(variety):
    def make(by, readers="members", text="") -> SeasonNote:
        return write_note(
            variety=variety,
            by=by,
            year=2025,
            text=text or f"A note for {readers}.",
            readers=readers,
            on=TODAY,
        )

    return make


@pytest.fixture
def as_reader(request, client, api):
    def reader(who: str):
        if who != "anonymous":
            person = request.getfixturevalue(who)
            client.force_login(person)
            api.force_authenticate(person)
        return client, api

    return reader


READS = {
    "anonymous": ["everyone"],
    "applicant": ["everyone"],
    "other_member": ["everyone", "members"],
    "coordinator": ["everyone", "members"],
    "administrator": ["everyone", "members"],
    "member": ["everyone", "members", "me"],
}


@pytest.mark.parametrize(("who", "readable"), READS.items())
def test_a_note_reaches_those_its_author_chose_and_nobody_else(
    make_note, member, variety, as_reader, who, readable
):
    for readers in SeasonNote.Readers.values:
        make_note(member, readers, f"Seen by {readers} only.")
    client, api = as_reader(who)

    page = client.get(variety.get_absolute_url()).content.decode()
    listed = api.get(reverse("notes-list")).json()["results"]

    on_page = [readers for readers in READS["member"] if f"Seen by {readers} only." in page]
    assert on_page == readable
    assert {note["readers"] for note in listed} == set(readable)


@pytest.mark.parametrize("who", ["anonymous", "other_member", "coordinator"])
def test_a_hidden_note_is_not_found_by_its_number(make_note, member, as_reader, who):
    note = make_note(member, "me")
    client, api = as_reader(who)

    statuses = [
        api.get(reverse("notes-detail", args=[note.pk])).status_code,
        api.patch(reverse("notes-detail", args=[note.pk]), {"text": "Mine."}).status_code,
        api.delete(reverse("notes-detail", args=[note.pk])).status_code,
        client.get(reverse("season-note-edit", args=[note.pk])).status_code,
        client.post(reverse("season-note-remove", args=[note.pk])).status_code,
    ]

    expected = [404, 401, 401, 302, 302] if who == "anonymous" else [404] * 5
    assert statuses == expected
    assert SeasonNote.objects.filter(text="A note for me.").count() == 1


def test_a_note_shows_its_authors_chosen_name_and_no_email(
    make_note, member, variety, other_member, client, api
):
    make_note(member)
    client.force_login(other_member)
    api.force_authenticate(other_member)

    page = client.get(variety.get_absolute_url()).content.decode()
    listed = api.get(reverse("notes-list")).content.decode()

    assert (page.count("wren"), listed.count("wren")) == (1, 1)
    assert (page.count(member.email), listed.count(member.email)) == (0, 0)


def test_a_member_changes_a_note_and_its_readers(make_note, member):
    note = make_note(member, "everyone")

    edit_note(note=note, by=member, on=TODAY, year=2024, text=" Frost in June. ", readers="me")

    assert (
        SeasonNote.objects.filter(year=2024, text="Frost in June.", readers="me").count() == 1
    )


@pytest.mark.parametrize("who", ["other_member", "desk", "coordinator", "administrator"])
def test_nobody_changes_another_members_note(make_note, member, request, who):
    note = make_note(member, "everyone")

    with pytest.raises(NotAllowed):
        edit_note(
            note=note,
            by=request.getfixturevalue(who),
            on=TODAY,
            year=2025,
            text="Never grew.",
            readers="everyone",
        )

    assert SeasonNote.objects.get().text == "A note for everyone."


@pytest.mark.parametrize(
    ("who", "readers", "left"),
    [
        ("member", "me", 0),
        ("other_member", "everyone", 1),
        ("desk", "everyone", 1),
        ("coordinator", "everyone", 0),
        ("coordinator", "members", 0),
        ("coordinator", "me", 1),
    ],
)
def test_a_note_is_removed_by_its_author_or_by_a_coordinator_who_reads_it(
    make_note, member, request, who, readers, left
):
    note = make_note(member, readers)

    if left:
        with pytest.raises(NotAllowed):
            remove_note(note=note, by=request.getfixturevalue(who))
    else:
        remove_note(note=note, by=request.getfixturevalue(who))

    assert SeasonNote.objects.count() == left


def test_somebody_not_yet_approved_writes_no_note(variety, applicant):
    with pytest.raises(NotAllowed):
        write_note(variety=variety, by=applicant, year=2025, text="Good.", on=TODAY)

    assert SeasonNote.objects.count() == 0


@pytest.mark.parametrize(
    ("note", "field", "sentence"),
    [
        ({"text": "  \n "}, "text", "Write what you saw: the note is empty."),
        (
            {"text": "x" * 8001},
            "text",
            "Ensure this value has at most 8000 characters (it has 8001).",
        ),
        (
            {"year": 1899},
            "year",
            "Ensure this value is greater than or equal to 1900.",
        ),
        (
            {"year": 2027},
            "year",
            "The season of 2027 has not begun. Write of 2026 or before.",
        ),
        (
            {"year": 10**9},
            "year",
            "Ensure this value is less than or equal to 2200.",
        ),
        ({"readers": "the press"}, "readers", "Value 'the press' is not a valid choice."),
    ],
)
def test_a_wrong_note_is_refused_in_one_sentence(variety, member, note, field, sentence):
    whole = {"year": 2025, "text": "Good.", "readers": "members"} | note

    with pytest.raises(Refused) as refusal:
        write_note(variety=variety, by=member, on=TODAY, **whole)

    assert (refusal.value.field, str(refusal.value)) == (field, sentence)
    assert SeasonNote.objects.count() == 0
