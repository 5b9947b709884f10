"""Lending over the pages, as a member and as the desk do it."""

from __future__ import annotations

import pytest

from accounts.models import Garden
from library.lending.models import Loan
from tests.lending.conftest import TODAY
from tests.pages import text_of

pytestmark = pytest.mark.django_db


def test_scanning_a_packet_on_the_shelf_leads_to_lending_it(as_desk, packet):
    response = as_desk.get("/desk/", {"code": packet.code.lower()})

    assert response.url == f"/loans/new/?packet={packet.code}"


def test_the_next_packet_is_for_the_same_person(as_desk, packet, member):
    response = as_desk.get("/desk/", {"code": packet.code, "member": member.pk})

    assert response.url == f"/loans/new/?packet={packet.code}&member={member.pk}"


def test_scanning_a_lent_packet_leads_to_its_loan(as_desk, loan):
    response = as_desk.get("/desk/", {"code": loan.packet.code})

    assert response.url == f"/loans/{loan.pk}/"


def test_a_mistyped_code_is_said_to_be_so(as_desk, packet):
    other = "A" if packet.code[-1] != "A" else "B"

    response = as_desk.get("/desk/", {"code": packet.code[:-1] + other})

    assert response.status_code == 400
    assert 'aria-invalid="true"' in text_of(response)


def test_the_desk_lends_in_two_taps(as_desk, packet, member):
    address = f"/loans/new/?packet={packet.code}&member={member.pk}"

    page = as_desk.get(address)
    response = as_desk.post(address)

    assert "Lend Tarn Kettle to wren" in text_of(page)
    assert response.url == f"/desk/?member={member.pk}"
    assert Loan.objects.get().borrower == member


def test_the_desk_finds_a_member_by_a_part_of_the_name(as_desk, packet, member):
    page = as_desk.get("/loans/new/", {"packet": packet.code, "who": "WRE"})

    assert f"?packet={packet.code}&amp;member={member.pk}" in text_of(page)


def test_a_member_is_never_found_by_email(as_desk, packet, member):
    page = as_desk.get("/desk/members/", {"packet": packet.code, "who": "example.org"})

    assert "No approved member is called so." in text_of(page)


def test_lending_to_nobody_is_refused_with_a_sentence(as_desk, packet, counts):
    before = counts()

    response = as_desk.post(f"/loans/new/?packet={packet.code}")

    assert response.status_code == 400
    assert "Choose who borrows it first." in text_of(response)
    assert counts() == before


def test_a_member_borrows_after_reading_the_guidance(as_member, packet, member):
    address = f"/loans/new/?packet={packet.code}"

    page = text_of(as_member.get(address))
    as_member.post(address)

    assert "Plants to grow" in page
    assert "Local rules and licensed practice come first." in page
    assert Loan.objects.get().handed_over_on is None


def test_the_guidance_follows_the_garden_that_is_chosen(as_member, packet, garden, member):
    cold = Garden.objects.create(
        member=member, name="Cold field", last_spring_frost="06-10", first_autumn_frost="10-01"
    )

    page = text_of(as_member.get("/loans/new/", {"packet": packet.code, "garden": cold.pk}))
    as_member.post(f"/loans/new/?packet={packet.code}&garden={cold.pk}")

    assert "30 November 2026" in page
    assert Loan.objects.get().garden == cold


def test_the_desk_does_not_learn_the_names_of_a_members_gardens(
    as_desk, packet, garden, member
):
    Garden.objects.create(member=member, name="Behind the chapel")

    page = text_of(as_desk.get(f"/loans/new/?packet={packet.code}&member={member.pk}"))

    assert "Mill Lane plot" not in page
    assert "Behind the chapel" not in page


def test_a_packet_that_cannot_be_lent_has_no_button_but_a_reason(as_member, loan):
    page = text_of(as_member.get(f"/loans/new/?packet={loan.packet.code}"))

    assert "is not on the shelf: it is lent." in page
    assert "Borrow it" not in page


def test_a_packet_taken_meanwhile_is_a_conflict(as_member, packet, lend, other_member, counts):
    lend(packet, borrower=other_member)
    before = counts()

    response = as_member.post(f"/loans/new/?packet={packet.code}")

    assert response.status_code == 409
    assert counts() == before


def test_a_coordinator_may_write_a_reason_to_lend_nevertheless(
    as_coordinator, make_packet, variety, member
):
    packet = make_packet(variety, awaits_first_test=True)
    address = f"/loans/new/?packet={packet.code}&member={member.pk}"

    page = text_of(as_coordinator.get(address))
    as_coordinator.post(address, {"override_reason": "for a trial"})

    assert "Lend against the rules, because" in page
    assert Loan.objects.get().override_reason == "for a trial"


def test_another_members_loan_is_not_found(client, loan, other_member):
    client.force_login(other_member)

    statuses = [
        client.get(f"/loans/{loan.pk}/{part}").status_code for part in ("", "close/", "garden/")
    ] + [
        client.post(f"/loans/{loan.pk}/{part}/").status_code
        for part in ("cancel", "hand-over", "take-back", "extend")
    ]

    assert statuses == [404] * 7


def test_the_loan_page_explains_its_due_date(as_member, loan, valley):
    page = text_of(as_member.get(f"/loans/{loan.pk}/"))

    assert loan.due_reason.replace("'", "&#x27;") in page


def test_the_desk_hands_over_with_one_button(as_desk, packet, member, lend):
    loan = lend(packet, by=member)

    as_desk.post(f"/loans/{loan.pk}/hand-over/")

    loan.refresh_from_db()
    assert loan.handed_over_on == TODAY


def test_a_button_pressed_twice_says_so_and_changes_nothing(as_desk, loan, counts):
    before = counts()

    response = as_desk.post(f"/loans/{loan.pk}/hand-over/", follow=True)

    assert "This packet was handed over already." in text_of(response)
    assert counts() == before


def test_the_desk_takes_a_packet_back_unopened(as_desk, loan):
    as_desk.post(f"/loans/{loan.pk}/take-back/")

    loan.refresh_from_db()
    assert loan.outcome == "taken_back"


def test_a_member_puts_back_what_they_do_not_need(as_member, packet, member, lend):
    loan = lend(packet, by=member)

    as_member.post(f"/loans/{loan.pk}/cancel/")

    loan.refresh_from_db()
    assert loan.outcome == "not_collected"


def test_the_form_says_when_it_must_be_told_what_happened(as_member, loan):
    page = text_of(as_member.get(f"/loans/{loan.pk}/close/"))

    assert 'What happened? <span class="optional">needed if the crop failed</span>' in page
    assert ">optional<" not in page


def test_a_failed_crop_is_told_in_one_form(as_member, loan):
    page = as_member.get(f"/loans/{loan.pk}/close/?outcome=crop_failed")
    as_member.post(f"/loans/{loan.pk}/close/", {"outcome": "crop_failed", "note": "hail"})

    loan.refresh_from_db()
    assert "checked" in text_of(page)
    assert (loan.outcome, loan.outcome_note) == ("crop_failed", "hail")


def test_a_failed_crop_without_a_word_is_asked_again(as_member, loan, counts):
    before = counts()

    response = as_member.post(f"/loans/{loan.pk}/close/", {"outcome": "crop_failed"})

    assert response.status_code == 400
    assert "Say in a few words what happened" in text_of(response)
    assert counts() == before


def test_the_desk_gives_more_time(as_desk, loan):
    as_desk.post(f"/loans/{loan.pk}/extend/", {"due_on": "2027-11-01", "reason": "moved house"})

    loan.refresh_from_db()
    assert loan.due_on.isoformat() == "2027-11-01"
    assert loan.due_reason.endswith("the desk gave more time: moved house")


@pytest.mark.parametrize("day", ["2027-02-30", "yesterday", "99999-01-01", "2020-01-01"])
def test_a_due_date_that_cannot_be_is_refused_at_its_field(as_desk, loan, day, counts):
    before = counts()

    response = as_desk.post(f"/loans/{loan.pk}/extend/", {"due_on": day, "reason": "x"})

    assert response.status_code == 400
    assert "due_on" in response.context["form"].errors
    assert counts() == before
