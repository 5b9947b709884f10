"""Photos on varieties, lots and season notes: who adds, sees and removes them."""

from __future__ import annotations

import base64
import datetime as dt
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image

from library.album.models import AttachedPhoto
from library.album.services import MOST_PHOTOS, attach_photo, may_add_photo, remove_photo
from library.catalogue.models import SeasonNote
from library.catalogue.services import remove_note, write_note
from library.errors import NotAllowed, NotEnough
from library.photos.models import Photo
from tests.photos.test_photos import SVG, from_a_phone, painted, png_that_says, written

pytestmark = pytest.mark.django_db
TODAY = dt.date(2026, 2, 10)


def upload(content: bytes | None = None, name: str = "IMG_1.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content or from_a_phone(), "image/jpeg")


@pytest.fixture
def note_of(variety):
    def note_of_(author, readers="members"):
        return write_note(
            variety=variety, by=author, on=TODAY, year=2025, text="Late.", readers=readers
        )

    return note_of_


def test_who_may_add_to_what(
    variety, make_lot, member, other_member, desk, coordinator, note_of
):
    lot, note = make_lot(variety, grower=member), note_of(member)
    people = {"member": member, "other": other_member, "desk": desk, "coord": coordinator}
    things = {"variety": variety, "lot": lot, "note": note}

    may = {
        (subject, who)
        for subject, thing in things.items()
        for who, person in people.items()
        if may_add_photo(subject=thing, by=person)
    }

    assert may == {
        ("variety", "desk"),
        ("variety", "coord"),
        ("lot", "desk"),
        ("lot", "coord"),
        ("lot", "member"),
        ("note", "member"),
    }
    with pytest.raises(NotAllowed, match="member who wrote it"):
        attach_photo(subject=note, upload=upload(), by=coordinator)
    with pytest.raises(NotAllowed, match="at the desk"):
        attach_photo(subject=variety, upload=upload(), by=member)


def test_nothing_of_what_the_phone_noted_is_kept(variety, desk):
    attached = attach_photo(subject=variety, upload=upload(), by=desk, caption="In  June")

    kept = bytes(Photo.objects.get(pk=attached.photo_id).content)
    assert (b"Marta" in kept, b"Exif" in kept, b"mill" in kept) == (False, False, False)
    assert attached.photo.caption == "In June"


@pytest.mark.parametrize(
    "hostile",
    [
        pytest.param(SVG, id="svg with a script"),
        pytest.param(b"<html><script>alert(1)</script>", id="page"),
        pytest.param(b"GIF89a/*<script>*/=1", id="gif that is a script"),
        pytest.param(b"%PDF-1.7" + b"x" * 50, id="pdf"),
        pytest.param(written(painted(400, 400))[:-300], id="cut off"),
        pytest.param(png_that_says(40_000, 40_000), id="huge"),
    ],
)
def test_what_is_no_photo_is_refused_and_nothing_is_kept(client, variety, desk, hostile):
    client.force_login(desk)

    answer = client.post(
        reverse("album-add-variety", args=[variety.pk]), {"photo": upload(hostile)}
    )

    assert answer.status_code == 400
    said = answer.content.decode()
    assert "cannot be read as a picture" in said or "million are the most" in said
    assert not Photo.objects.exists()


def test_a_picture_with_an_archive_behind_it_comes_out_a_picture(variety, desk):
    hidden = written(painted()) + b"PK\x03\x04<script>"

    attached = attach_photo(subject=variety, upload=upload(hidden), by=desk)

    kept = bytes(attached.photo.content)
    assert b"PK\x03\x04" not in kept
    assert Image.open(io.BytesIO(kept)).format == "JPEG"


def test_there_is_an_end_to_photos(variety, desk):
    for _n in range(MOST_PHOTOS):
        attach_photo(subject=variety, upload=upload(), by=desk)

    with pytest.raises(NotEnough, match="12 photos"):
        attach_photo(subject=variety, upload=upload(), by=desk)


def test_who_sees_the_note_sees_its_photos(client, member, other_member, coordinator, note_of):
    private = attach_photo(subject=note_of(member, "me"), upload=upload(), by=member)
    shared = attach_photo(subject=note_of(member), upload=upload(), by=member)
    addresses = [each.get_image_url() for each in (private, shared)]
    seen = {"nobody": [client.get(address).status_code for address in addresses]}
    for who, person in {"author": member, "other": other_member, "coord": coordinator}.items():
        client.force_login(person)
        seen[who] = [client.get(address).status_code for address in addresses]

    assert seen == {
        "nobody": [404, 404],
        "author": [200, 200],
        "other": [404, 200],
        "coord": [404, 200],
    }
    with pytest.raises(NotAllowed):
        remove_photo(attached=private, by=coordinator)


def test_a_photo_goes_for_good_and_with_its_note(member, other_member, coordinator, note_of):
    note = note_of(member)
    first = attach_photo(subject=note, upload=upload(), by=member)
    attach_photo(subject=note, upload=upload(), by=member)
    with pytest.raises(NotAllowed):
        remove_photo(attached=first, by=other_member)

    remove_photo(attached=first, by=coordinator)
    assert Photo.objects.count() == 1

    remove_note(note=note, by=member)
    assert not Photo.objects.exists()
    assert not AttachedPhoto.objects.exists()


def test_a_note_with_photos_is_removed_only_after_asking(client, member, note_of):
    note = note_of(member)
    attach_photo(subject=note, upload=upload(), by=member)
    client.force_login(member)
    address = reverse("season-note-remove", args=[note.pk])

    asked = client.post(address).content.decode()
    still_there = SeasonNote.objects.exists()
    done = client.post(address, {"sure": "yes"}, follow=True).content.decode()

    assert "Its photo goes with it and cannot be put back." in asked
    assert still_there
    assert "The note is removed." in done
    assert reverse("season-note-put-back") not in done
    assert not SeasonNote.objects.exists()


def test_they_are_shown_on_the_pages(client, variety, make_lot, member, desk, note_of):
    lot = make_lot(variety)
    for caption, subject in {"of the card": variety, "of the seed": lot}.items():
        attach_photo(subject=subject, upload=upload(), by=desk, caption=caption)
    attach_photo(subject=note_of(member), upload=upload(), by=member, caption="of the bed")
    client.force_login(member)

    card = client.get(variety.get_absolute_url()).content.decode()
    page = client.get(lot.get_absolute_url()).content.decode()

    assert ('alt="of the card"' in card, 'alt="of the bed"' in card) == (True, True)
    assert ('alt="of the seed"' in page, "of the card" in page) == (True, False)


@pytest.mark.parametrize("notes", [1, 6])
def test_photos_of_many_notes_cost_one_query(client, variety, member, note_of, notes):
    for _n in range(notes):
        attach_photo(subject=note_of(member), upload=upload(), by=member)
    client.force_login(member)

    with CaptureQueriesContext(connection) as asked:
        client.get(variety.get_absolute_url())

    ours = [
        q["sql"] for q in asked.captured_queries if 'FROM "album_attachedphoto"' in q["sql"]
    ]
    assert len(ours) == 2  # of the card, and of all its notes
    assert not any('"photos_photo"."content",' in sql for sql in ours)


def test_the_api_adds_lists_shows_and_removes(api, variety, make_lot, desk):
    lot = make_lot(variety)
    api.force_authenticate(desk)
    sent = {"lot": lot.number, "caption": "Seed", "file": upload()}

    made = api.post("/api/photos/", sent, format="multipart")
    text = base64.b64encode(from_a_phone()).decode()
    again = api.post("/api/photos/", {"variety": variety.pk, "content": text})

    assert (made.status_code, again.status_code) == (201, 201)
    body = made.json()
    assert (body["lot"], body["caption"], body["added_by"]) == (lot.number, "Seed", "heron")
    listed = api.get(f"/api/photos/?lot={lot.number}").json()["results"]
    assert [each["caption"] for each in listed] == ["Seed"]
    image = api.get(f"/api/photos/{body['identifier']}/image/")
    assert image["Content-Type"] == "image/jpeg"
    assert api.delete(f"/api/photos/{body['identifier']}/").status_code == 204
    assert AttachedPhoto.objects.count() == 1


@pytest.mark.parametrize(
    "sent",
    [
        {"content": "AAAA"},
        {"variety": 1, "lot": "x", "content": "AAAA"},
        {"variety": 1},
        {"variety": 1, "content": "not base64!"},
    ],
)
def test_the_api_says_what_is_wrong(api, variety, desk, sent):
    api.force_authenticate(desk)

    assert api.post("/api/photos/", sent).status_code == 400


def test_svg_by_the_api_is_refused(api, variety, desk):
    api.force_authenticate(desk)
    sent = {"variety": variety.pk, "content": base64.b64encode(SVG).decode()}

    answer = api.post("/api/photos/", sent)

    assert (answer.status_code, answer.json()["code"]) == (400, "refused")
