"""The pages and endpoints of commitments: what is shown, sent, and how much it costs."""

from __future__ import annotations

import datetime as dt
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import translation
from PIL import Image

from library.growouts.models import Commitment, MilestonePhoto
from library.growouts.services import commitments as services
from library.growouts.services.milestones import report_milestone
from library.outbox.models import Message
from library.photos.models import Photo
from tests.growouts.conftest import TODAY

pytestmark = pytest.mark.django_db

MAY = dt.date(2026, 5, 13)


def photo(name: str = "IMG_1.jpg", colour: str = "green") -> SimpleUploadedFile:
    out = io.BytesIO()
    notes = Image.Exif()
    notes.get_ifd(0x8825).update({1: "N", 2: (54.0, 12.0, 0.0)})
    Image.new("RGB", (64, 48), colour).save(out, "JPEG", exif=notes)
    return SimpleUploadedFile(name, out.getvalue(), content_type="image/jpeg")


def page_of(client, who, commitment) -> str:
    client.force_login(who)
    return client.get(commitment.get_absolute_url()).content.decode()


# What an offer tells ----------------------------------------------------------------------
TOLD = [
    "Seed you get", "of lot", "harvested in 2025", "Room it takes", "m²",
    "Figures, and who says so", "Plants that keep the variety",
    "Distance to others of its species, at least", "Between rows and in the row", "cm",
    "What we ask and advise", "Before you say yes, look whether anybody within",
]  # fmt: skip


@pytest.fixture
def squash(make_variety, make_lot):
    """Insects carry its pollen far."""
    variety = make_variety("Mere Lantern", crop="winter squash")
    variety.description = "Ribbed and orange.\nA second line."
    variety.save()
    make_lot(variety, seeds=300, harvest_year=2025)
    return variety


def test_the_letter_and_the_page_say_all_that_the_grower_must_know(
    offer, squash, member, client
):
    offered = offer(squash, technique="bag")

    letter = Message.objects.get(to=member.email).text
    page = page_of(client, member, offered)
    for told in TOLD:
        assert told in letter
        assert told in page
    assert "Ribbed and orange." in letter
    assert squash.get_absolute_url() in letter
    assert "Take off the flowers that you do not use" in letter
    assert "Sown two weeks after the last spring frost" in letter  # why that day
    assert "bitter" in letter  # the species' caution


def test_where_little_seed_is_left_the_offer_says_what_will_stand(
    offer, make_variety, make_lot, member
):
    few = make_variety("Last Jar", crop="drying bean")
    make_lot(few, seeds=30, harvest_year=2025)

    offer(few)

    letter = Message.objects.get(to=member.email).text
    assert "a packet filled for you: 15 seeds of lot" in letter
    assert "There is no more to spare, so about" in letter


def test_the_packets_that_are_told_are_those_that_are_set_aside(offered, client, member):
    page = page_of(client, member, offered)
    kept = offered.told["packets"]
    letter = Message.objects.get(to=member.email).text

    services.accept(commitment=offered, on=TODAY, by=member)

    lent = [link.loan.packet for link in offered.lent.order_by("pk")]
    assert [(p.lot.number, p.seeds) for p in lent] == [(k["lot"], k["seeds"]) for k in kept]
    shelf = [k["code"] for k in kept if k["code"]]
    assert shelf  # as many of those of 20 as do not go beyond, and the rest from the jar
    assert [p.code for p in lent][: len(shelf)] == shelf
    assert len(lent) == len(shelf) + 1
    total = sum(p.seeds for p in lent)
    assert offered.told["seeds_set_aside"] == total
    for told in (f"{total} seeds in {len(lent)} packets", f"acket {shelf[0]}: 20 seeds of lot"):
        assert told in letter
        assert told in page
    after = page_of(client, member, offered)
    assert f"{total} seeds in {len(lent)} packets" in after
    assert "As things are today" not in after


def test_seed_of_two_lots_is_told_of_both(offer, make_variety, make_lot, member):
    two = make_variety("Two Jars", crop="drying bean")
    lots = [make_lot(two, seeds=n, harvest_year=2025) for n in (20, 300)]

    told = offer(two).told

    assert {packet["lot"] for packet in told["packets"]} <= {lot.number for lot in lots}
    assert sum(packet["seeds"] for packet in told["packets"]) == told["seeds"]


def test_figures_have_their_sources_and_advice_has_none(as_, offer, squash, member):
    offered = offer(squash, technique="bag", plants=7)

    told = as_(member).get(f"/api/commitments/{offered.pk}/guidance/").json()

    assert [f["label"] for f in told["figures"]] == [
        "Plants that keep the variety",
        "Distance to others of its species, at least",
        "Between rows and in the row",
    ]
    assert all(f["source"] and f["how"] for f in told["figures"])
    assert told["packets"] == [
        {
            "lot": squash.lots.get().number,
            "harvest_year": 2025,
            "seeds": told["seeds"],
            "code": None,
        }
    ]
    advice = told["advice"]
    assert (advice["plants"], advice["sowing"]["plants"]) == (7, 7)
    said = " ".join(
        [advice["sowing"]["reason"], *advice["isolation"], advice["if_fewer_plants"]]
    )
    for figure in told["figures"]:
        assert figure["source"] not in said


def test_what_is_over_has_no_guidance_any_more(as_, offered, member):
    services.decline(commitment=offered, on=TODAY, by=member)

    answer = as_(member).get(f"/api/commitments/{offered.pk}/guidance/")

    assert answer.status_code == 409


def test_the_letter_is_in_the_language_of_its_reader(offer, member):
    member.language = "de"
    member.save()
    seen = []

    from library.growouts.commitments import mail

    def facts():
        seen.append(translation.get_language())
        return {}

    mail.send_offer(offer(), facts)

    assert seen == ["de"]


def test_fewer_plants_than_keep_it_are_a_coordinators_wish(offer, member):
    offer(plants=7)

    assert "7 as a coordinator asks" in Message.objects.get(to=member.email).text


# Reporting from a phone -------------------------------------------------------------------
def test_the_form_opens_the_camera_of_a_phone(as_member, promised):
    form = as_member.get(f"{promised.get_absolute_url()}steps/rogued/").content.decode()

    assert 'capture="environment"' in form
    assert 'enctype="multipart/form-data"' in form
    assert 'name="photos"' in form
    assert 'name="neighbour_m"' in form
    assert form.count("<label") >= 7


def test_a_report_with_photos_is_kept_and_shown(as_member, promised, member):
    address = f"{promised.get_absolute_url()}steps/rogued/"
    sent = {
        "on": TODAY,
        "counted": 3,
        "off_types": 1,
        "neighbour": "runner beans",
        "neighbour_m": 80,
        "photo_now": photo("now.jpg"),
        "photos": [photo("a.jpg", "red"), photo("b.jpg", "blue")],
    }

    answer = as_member.post(address, sent)

    assert answer.status_code == 302
    assert Photo.objects.count() == 3
    page = as_member.get(promised.get_absolute_url()).content.decode()
    assert page.count('<img class="photo"') == 3
    assert "3 plants taken out" in page
    assert "1 off-type seen" in page
    assert "Near it: runner beans" in page


@pytest.mark.parametrize(
    ("sent", "says"),
    [
        ({"on": "2027-01-01"}, "what happened"),
        ({"on": "", "counted": 3}, "required"),
        ({"on": TODAY, "photos": [photo(f"{n}.jpg") for n in range(5)]}, "Up to 4 photos"),
        ({"on": TODAY, "photos": [SimpleUploadedFile("x.jpg", b"<svg/>")]}, "JPEG, PNG or"),
    ],
)
def test_a_wrong_report_is_told_at_its_field_and_nothing_is_kept(
    sent, says, as_member, promised
):
    answer = as_member.post(f"{promised.get_absolute_url()}steps/sown/", sent)

    assert answer.status_code == 400
    assert says in answer.content.decode()
    assert not Photo.objects.exists()
    assert promised.milestones.get(kind="sown").done_on is None


def test_steps_are_reported_late_and_in_any_order(as_member, promised, february):
    for kind in ("harvested", "sown"):
        address = f"{promised.get_absolute_url()}steps/{kind}/"
        assert as_member.post(address, {"on": "2026-02-01"}).status_code == 302

    done = promised.milestones.exclude(done_on=None).values_list("kind", flat=True)
    assert set(done) == {"sown", "harvested"}


def test_the_earlier_report_stays_readable(as_member, promised, member):
    for counted in (180, 120):
        report_milestone(
            milestone=promised.milestones.get(kind="stand"),
            on=TODAY, today=TODAY, by=member, counted=counted,
        )  # fmt: skip

    page = as_member.get(promised.get_absolute_url()).content.decode()

    assert "180 plants that stand" in page
    assert "120 plants that stand" in page


def test_pictures_are_read_before_the_report_is_written(promised, member, monkeypatch):
    """Reading a large picture takes a while: nobody else may wait for it."""
    from django.db import connection

    from library.growouts.services import milestones

    depth, real = [], milestones.picture_of
    outside = len(connection.savepoint_ids)

    def spy(upload):
        depth.append(len(connection.savepoint_ids) - outside)
        return real(upload)

    monkeypatch.setattr(milestones, "picture_of", spy)
    report_milestone(
        milestone=promised.milestones.get(kind="sown"),
        on=TODAY, today=TODAY, by=member, photos=[photo()],
    )  # fmt: skip

    assert depth == [0]


# Photos -----------------------------------------------------------------------------------
@pytest.fixture
def shown(promised, member) -> Photo:
    report_milestone(
        milestone=promised.milestones.get(kind="sown"),
        on=TODAY, today=TODAY, by=member, photos=[photo()],
    )  # fmt: skip
    return Photo.objects.get()


@pytest.mark.parametrize("address", ["/grow-outs/photos/{}/", "/api/growout-photos/{}/"])
def test_a_photo_is_for_its_grower_and_coordinators(
    address, shown, client, member, other_member, desk, coordinator
):
    path = address.format(shown.identifier)

    seen = {}
    for who in (member, coordinator, other_member, desk):
        client.force_login(who)
        seen[who] = client.get(path)

    assert [answer.status_code for answer in seen.values()] == [200, 200, 404, 404]
    answer = seen[member]
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert "private" in answer["Cache-Control"]
    assert "max-age=31536000" in answer["Cache-Control"]
    assert "no-store" not in answer["Cache-Control"]
    assert bytes(answer.content) == bytes(shown.content)


def test_a_photo_that_is_held_already_is_not_sent_again(shown, as_member):
    path = f"/grow-outs/photos/{shown.identifier}/"
    tag = as_member.get(path)["ETag"]

    answer = as_member.get(path, headers={"If-None-Match": tag})

    assert (answer.status_code, answer.content) == (304, b"")


# Lists, panels, costs ---------------------------------------------------------------------
@pytest.mark.parametrize("how_many", [1, 6])
def test_the_coordinators_list_costs_the_same_however_long(
    how_many, client, coordinator, member, season, make_variety, make_commitment,
    django_assert_num_queries,
):  # fmt: skip
    for _number in range(how_many):
        steps = (("sown", TODAY), ("stand", MAY))
        make_commitment(make_variety(), member, state="accepted", steps=steps)
    client.force_login(coordinator)
    address = f"/grow-outs/seasons/{season.year}/commitments/"
    client.get(address)

    with django_assert_num_queries(7):
        page = client.get(address)

    assert page.content.decode().count("sown, by 10 Feb 2026") == how_many


def test_the_list_shows_what_is_late_or_failed(
    client, coordinator, season, make_variety, make_commitment, make_member
):
    client.force_login(coordinator)
    late, well, lost = (make_variety(name) for name in ("Late", "Well", "Lost"))
    past = (("sown", TODAY - dt.timedelta(days=1)),)
    make_commitment(late, make_member("finch"), state="accepted", steps=past)
    make_commitment(well, make_member("dipper"), state="accepted", steps=(("sown", MAY),))
    make_commitment(lost, make_member("heron"), state="failed", cause="hail", closed_on=TODAY)
    address = f"/grow-outs/seasons/{season.year}/commitments/?show="

    def names(show: str) -> set[str]:
        rows = client.get(address + show).context["rows"]
        return {row.commitment.variety.name for row in rows}

    assert names("") == {"Late", "Well", "Lost"}
    assert names("late") == {"Late"}
    assert names("not_taken_over") == {"Lost"}
    assert names("accepted") == {"Late", "Well"}
    assert names("no such thing") == {"Late", "Well", "Lost"}


@pytest.mark.parametrize("how_many", [1, 6])
def test_a_commitments_page_costs_the_same_however_much_was_told(
    how_many, as_member, promised, member, django_assert_max_num_queries
):
    for _number in range(how_many):
        report_milestone(
            milestone=promised.milestones.get(kind="sown"),
            on=TODAY, today=TODAY, by=member, photos=[photo(), photo()],
        )  # fmt: skip
    as_member.get(promised.get_absolute_url())

    with django_assert_max_num_queries(26) as asked:
        as_member.get(promised.get_absolute_url())

    pictures = [q["sql"] for q in asked.captured_queries if "photos_photo" in q["sql"]]
    assert len(pictures) == 1
    assert '"content"' not in pictures[0]  # a page does not read the pictures themselves


@pytest.mark.parametrize("how_many", [1, 6])
def test_looking_for_a_replacement_costs_the_same_however_many_there_are(
    how_many, promised, member, make_member, make_offer, make_garden, make_variety,
    make_commitment, django_assert_num_queries,
):  # fmt: skip
    from library.growouts.commitments.replacing import replacement_for

    failed = services.fail(commitment=promised, cause="frost", on=TODAY, by=member)
    for number in range(how_many):
        grower = make_member(f"grower{number}")
        garden = make_garden(grower, last_spring_frost="05-10", first_autumn_frost="10-15")
        make_offer(grower, garden=garden, room_m2=60)
        make_offer(grower, garden=make_garden(grower))  # whose frosts nobody told
        make_commitment(make_variety(), grower, state="accepted", garden=garden)

    with django_assert_num_queries(7):
        found = replacement_for(failed, on=MAY)

    assert len(found.candidates) == min(10, 2 * how_many)


def test_the_loans_page_says_that_it_is_for_a_grow_out(client, promised, member, desk):
    loan = promised.lent.first().loan
    way = f'href="{promised.get_absolute_url()}"'

    client.force_login(member)
    mine = client.get(loan.get_absolute_url()).content.decode()
    client.force_login(desk)
    theirs = client.get(loan.get_absolute_url()).content.decode()

    assert "lent under a promise" in mine
    assert "lent under a promise" in theirs
    assert way in mine
    assert way not in theirs


def test_members_read_who_promised_a_variety_and_not_who_was_asked(
    client, offer, promised, make_garden, other_member, member, coordinator, make_member, bean
):
    offer(place=make_garden(other_member))
    reader = make_member("linnet")

    def told(who) -> str:
        client.force_login(who)
        return client.get(bean.get_absolute_url()).content.decode()

    assert member.display_name in told(reader)
    assert other_member.display_name not in told(reader)
    assert other_member.display_name in told(coordinator)
    client.logout()
    assert "Who grows it" not in client.get(bean.get_absolute_url()).content.decode()


def test_the_season_tells_a_coordinator_what_to_see_to(
    client, coordinator, member, promised, season
):
    client.force_login(coordinator)
    services.fail(commitment=promised, cause="pests", on=TODAY, by=member)

    page = client.get(season.get_absolute_url()).content.decode()

    assert "1 failed and not taken over" in page
    assert "failed: slugs, insects, mice or birds" in page
    client.force_login(member)
    assert "not taken over" not in client.get(season.get_absolute_url()).content.decode()


def test_a_coordinator_asks_without_a_plan(
    client, coordinator, season, make_offer, make_wanted, member, bean
):
    make_wanted(bean)
    room = make_offer(member)
    client.force_login(coordinator)
    address = f"/grow-outs/seasons/{season.year}/ask/"
    sent = {"variety": bean.pk, "garden_offer": room.pk, "technique": "distance"}

    assert client.get(address).status_code == 200
    answer = client.post(address, sent)
    again = client.post(address, sent)

    made = Commitment.objects.get()
    assert answer["Location"] == made.get_absolute_url()
    assert (made.grower, made.garden) == (member, room.garden)
    assert again.status_code == 409
    assert "already" in again.content.decode()


# The API ----------------------------------------------------------------------------------
def test_the_api_goes_the_whole_way(as_, coordinator, member, season, garden, bean):
    sent = {"season": season.year, "variety": bean.pk, "garden": garden.pk, "technique": "bag"}
    sent["despite_doubts"] = True  # the garden is not offered
    made = as_(coordinator).post("/api/commitments/", sent, format="json")
    assert made.status_code == 201, made.json()
    address = f"/api/commitments/{made.json()['id']}/"

    promised = as_(member).post(f"{address}accept/", {}, format="json").json()
    assert promised["state"] == "accepted"
    assert len(promised["packets"]) >= 2

    told = {"kind": "sown", "on": str(TODAY), "counted": 40, "photos": [photo(), photo()]}
    reported = as_(member).post(f"{address}report/", told, format="multipart")
    assert reported.status_code == 200, reported.json()
    (report,) = reported.json()["milestones"][0]["reports"]
    assert report["number"] == 40
    assert len(report["photos"]) == 2
    seen = as_(member).get(f"/api/growout-photos/{report['photos'][0]}/")
    assert seen["Content-Type"] == "image/jpeg"

    failed = as_(member).post(f"{address}fail/", {"cause": "hail"}, format="json").json()
    assert (failed["state"], failed["cause"]) == ("failed", "hail")


def test_the_api_finds_and_asks_who_takes_over(
    as_, coordinator, member, other_member, promised, make_offer, make_garden, february
):
    services.fail(commitment=promised, cause="frost", on=TODAY, by=member)
    february.move_to(dt.datetime(2026, 5, 13, 9, tzinfo=dt.UTC))
    there = make_garden(other_member, last_spring_frost="05-10", first_autumn_frost="10-15")
    make_offer(other_member, garden=there, room_m2=60)
    address = f"/api/commitments/{promised.pk}/replacement/"

    found = as_(coordinator).get(address).json()
    asked = as_(coordinator).post(address, {"garden": there.pk}, format="json")
    again = as_(coordinator).post(address, {"garden": there.pk}, format="json")

    assert [one["garden"] for one in found["candidates"]] == [there.pk]
    assert asked.status_code == 201
    assert asked.json()["replaces"] == promised.pk
    assert again.status_code == 409
    assert "asked to take over already" in again.json()["detail"]
    assert as_(member).get(address).status_code == 403


def test_nothing_of_a_photo_is_kept_when_its_report_is_refused(as_, member, promised):
    told = {"kind": "sown", "on": "2027-01-01", "photos": [photo()]}

    answer = as_(member).post(
        f"/api/commitments/{promised.pk}/report/", told, format="multipart"
    )

    assert answer.status_code == 400
    assert not MilestonePhoto.objects.exists()
    assert not Photo.objects.exists()
