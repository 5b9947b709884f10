"""Cards, slips, lists, season sheets and the notice: what stands on them, and what must not."""

from __future__ import annotations

import pytest
from django.conf import settings
from django.http import Http404
from django.urls import reverse

from accounts.models import Community, Garden
from library.catalogue.models import SeasonNote
from library.growouts.models import Commitment, Milestone, Season
from library.lending.models import LendingRules
from library.lending.services import lend_packet
from library.stock import services as stock
from tests.paper.conftest import ON
from tests.paper.reading import pages, sizes, squares

HOSTILE = '#panic() $ * _ @ < \\ // ` ] } " & <script>'
SIZES = {"6x4": (152.4, 101.6), "a6": (148.0, 105.0)}


@pytest.fixture
def loan(member, desk, variety, make_packet):
    Garden.objects.create(member=member, name="Mill Lane plot", is_default=True)
    return lend_packet(packet=make_packet(variety), borrower=member, on=ON, by=desk)


@pytest.mark.parametrize("size", SIZES)
def test_a_card_has_a_front_and_a_back(make_variety, make_lot, member, printed, size):
    variety = make_variety(
        "Fell Courgette", crop="courgette", description="Pale. " + HOSTILE, days_to_maturity=56
    )
    lot = make_lot(variety, packets=2, harvest_year=2024)
    for readers, text in [("everyone", "Seen by all"), ("me", "Mine alone")]:
        SeasonNote.objects.create(
            variety=variety, author=member, year=2025, text=text, readers=readers
        )

    pdf = printed("cards", [variety.pk, variety.pk], card=size, by=member)

    front, back = pages(pdf)
    assert sizes(pdf) == [SIZES[size]] * 2
    assert [one.text for one in squares(pdf)] == [
        f"{settings.SITE_URL}{variety.get_absolute_url()}"
    ]
    for told in ["Fell Courgette", "Cucurbita pepo", "from other Cucurbita pepo", "56 days"]:
        assert told in front
    assert "a bitter one is poison" in front
    assert HOSTILE.replace(" ", "") in front.replace(" ", "")
    assert lot.number in back
    assert "Seen by all" in back
    assert "Mine alone" not in back


def test_a_card_of_endless_text_is_still_two_pages_and_says_where_the_rest_is(
    make_variety, member, printed
):
    long = "Wordy and true. " * 490
    variety = make_variety(
        "V" * 120,
        crop="courgette",
        description=long,
        origin_story=long,
        own_caution=long[:1900],
    )
    for year in range(2015, 2022):
        SeasonNote.objects.create(
            variety=variety, author=member, year=year, text=long, readers="everyone"
        )

    pdf = printed("cards", [variety.pk])

    assert len(pages(pdf)) == 2
    assert "More at the square code." in pages(pdf)[0]
    assert len(squares(pdf)) == 1


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("kind", ["loan-slips", "return-slips"])
def test_a_slip_names_people_as_they_chose_and_no_garden(loan, member, printed, kind, paper):
    pdf = printed(kind, [loan.pk], by=member, paper=paper)

    (text,) = pages(pdf)
    assert sizes(pdf) == [{"a4": (105.0, 148.0), "letter": (107.9, 139.7)}[paper]]
    assert squares(pdf)[0].text == f"{settings.SITE_URL}/packets/{loan.packet.code}/"
    for told in ["Tarn Kettle", "wren", loan.packet.code, loan.packet.lot.number]:
        assert told in text
    assert ("Seed due by" in text) is (kind == "loan-slips")
    assert ("Plants that gave seed" in text) is (kind == "return-slips")
    for private in [member.email, "Mill Lane"]:
        assert private not in text


def test_another_members_slip_is_not_there(loan, other_member, printed):
    with pytest.raises(Http404):
        printed("loan-slips", [loan.pk], by=other_member)


@pytest.mark.parametrize(
    ("paper", "size"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))]
)
def test_the_shelf_list_goes_by_place(make_lot, make_variety, desk, printed, paper, size):
    hall = stock.add_storage_place(name="Hall", kind="room", by=desk)
    box = stock.add_storage_place(name="Box *1*", kind="box", inside=hall, by=desk)
    lots = [make_lot(make_variety(f"Kind {n}"), storage_place=box) for n in range(60)]
    elsewhere = make_lot()

    pdf = printed("shelf-list", [hall.pk], paper=paper)

    told = pages(pdf)
    assert len(told) == 2
    assert set(sizes(pdf)) == {size}
    assert "Hall › Box *1*" in told[0]
    assert all("Harvest" in text for text in told)  # the head of the table stands on each page
    assert all(any(lot.number in text for text in told) for lot in lots)
    assert not any(elsewhere.number in text for text in told)


def test_the_season_sheet_has_each_step_and_room_to_write(
    variety, member, coordinator, printed
):
    garden = Garden.objects.create(member=member, name="Mill Lane plot")
    season = Season.objects.create(year=2026, opened_by=coordinator)
    promise = Commitment.objects.create(
        season=season, variety=variety, grower=member, garden=garden, plants=40,
        state="accepted", answer_by=ON,
    )  # fmt: skip
    for step, kind in enumerate(Milestone.Kind.values, start=1):
        Milestone.objects.create(commitment=promise, kind=kind, step=step, due_on=ON, rule="x")

    (text,) = pages(printed("season-sheet", [promise.pk], by=member))

    for told in [
        "Season 2026",
        "Mill Lane plot",
        "40 plants",
        "15 Apr 2026",
        "plants that stand",
    ]:
        assert told in text
    for verb in ["Sow", "Rogue", "Harvest seed of", "Bring in seed of"]:
        assert f"{verb} Tarn Kettle" in text


def test_the_notice_says_how_the_library_works(reference, client, printed):
    Community.objects.update_or_create(pk=1, defaults={"name": "Tarn Hollow"})
    LendingRules.current()
    LendingRules.objects.update(max_open_loans=7, exchange_notice=f"Our rule {HOSTILE}")

    pdf = client.get(reverse("paper-notice") + "?paper=letter").getvalue()

    (text,) = pages(pdf)
    assert sizes(pdf) == [(215.9, 279.4)]
    assert squares(pdf)[0].text == f"{settings.SITE_URL}/"
    # W. Va. Code 19-16-5a, rule 9: what a sign at the place must say.
    for told in [
        "7 packets",
        "may not meet the standards of germination",
        "protected or patented",
    ]:
        assert told in text
    assert HOSTILE.replace(" ", "") in text.replace(" ", "")


def test_print_buttons_lead_to_paper(client, desk, member, loan, variety):
    packet = loan.packet
    client.force_login(desk)
    for page, address in [
        (packet.get_absolute_url(), f"{reverse('paper-labels')}?key={packet.code}"),
        (packet.lot.get_absolute_url(), f"{reverse('paper-labels')}?key={packet.lot.number}"),
        (variety.get_absolute_url(), f"{reverse('paper-cards')}?key={variety.pk}"),
        (loan.get_absolute_url(), f"{reverse('paper-loan-slips')}?key={loan.pk}"),
        (
            f"{reverse('desk')}?member={member.pk}",
            f"{reverse('paper-loan-slips')}?key={loan.pk}",
        ),
        (reverse("desk"), reverse("printing")),
    ]:
        assert f'href="{address}"' in client.get(page).content.decode(), page


def test_what_is_wrong_is_said_and_nothing_is_lost(client, desk, make_lot):
    client.force_login(desk)
    lot = make_lot(packets=1)
    sent = {"codes": f"{lot.number}\nP1", "kind": "labels"}

    answer = client.post(reverse("printing"), sent)
    unknown = client.post(reverse("printing"), sent | {"codes": "P000412-2"})
    linked = client.get(reverse("paper-labels"), {"key": "P1"}, follow=True)

    assert (answer.status_code, unknown.status_code) == (400, 404)
    assert f"{lot.number}\nP1" in answer.content.decode().replace("\r", "")
    assert "too short" in answer.content.decode()
    assert "too short" in linked.content.decode()
