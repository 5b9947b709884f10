"""The pages of the desk and of one's own seed, walked through as people do."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from accounts.models import Garden
from library.lending import services
from library.lending.models import Deposit, LendingRules, Loan, Return
from library.stock.models import Lot
from tests.lending.conftest import TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def as_member(client, member):
    client.force_login(member)
    return client


@pytest.fixture
def as_desk(client, desk):
    client.force_login(desk)
    return client


@pytest.fixture
def as_coordinator(client, coordinator):
    client.force_login(coordinator)
    return client


@pytest.fixture
def deposit(member, variety):
    return services.propose_deposit(depositor=member, on=TODAY, variety=variety, seeds=300)


@pytest.fixture
def announced(loan, member, autumn):
    return services.announce_return(
        member=member, loans=[loan], on=autumn, by=member, harvest_year=2026, seeds=400
    )


def words(response) -> str:
    return " ".join(response.content.decode().split())


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
    assert 'aria-invalid="true"' in words(response)


def test_the_desk_lends_in_two_taps(as_desk, packet, member):
    address = f"/loans/new/?packet={packet.code}&member={member.pk}"

    page = as_desk.get(address)
    response = as_desk.post(address)

    assert "Lend Tarn Kettle to wren" in words(page)
    assert response.url == f"/desk/?member={member.pk}"
    assert Loan.objects.get().borrower == member


def test_the_desk_finds_a_member_by_a_part_of_the_name(as_desk, packet, member):
    page = as_desk.get("/loans/new/", {"packet": packet.code, "who": "WRE"})

    assert f"?packet={packet.code}&amp;member={member.pk}" in words(page)


def test_a_member_is_never_found_by_email(as_desk, packet, member):
    page = as_desk.get("/desk/members/", {"packet": packet.code, "who": "example.org"})

    assert "No approved member is called so." in words(page)


def test_lending_to_nobody_is_refused_with_a_sentence(as_desk, packet, counts):
    before = counts()

    response = as_desk.post(f"/loans/new/?packet={packet.code}")

    assert response.status_code == 400
    assert "Choose who borrows it first." in words(response)
    assert counts() == before


def test_a_member_borrows_after_reading_the_guidance(as_member, packet, member):
    address = f"/loans/new/?packet={packet.code}"

    page = words(as_member.get(address))
    as_member.post(address)

    assert "Plants to grow" in page
    assert "Local rules and licensed practice come first." in page
    assert Loan.objects.get().handed_over_on is None


def test_the_guidance_follows_the_garden_that_is_chosen(as_member, packet, garden, member):
    cold = Garden.objects.create(
        member=member, name="Cold field", last_spring_frost="06-10", first_autumn_frost="10-01"
    )

    page = words(as_member.get("/loans/new/", {"packet": packet.code, "garden": cold.pk}))
    as_member.post(f"/loans/new/?packet={packet.code}&garden={cold.pk}")

    assert "30 November 2026" in page
    assert Loan.objects.get().garden == cold


def test_the_desk_does_not_learn_the_names_of_a_members_gardens(
    as_desk, packet, garden, member
):
    Garden.objects.create(member=member, name="Behind the chapel")

    page = words(as_desk.get(f"/loans/new/?packet={packet.code}&member={member.pk}"))

    assert "Mill Lane plot" not in page
    assert "Behind the chapel" not in page


def test_a_packet_that_cannot_be_lent_has_no_button_but_a_reason(as_member, loan):
    page = words(as_member.get(f"/loans/new/?packet={loan.packet.code}"))

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

    page = words(as_coordinator.get(address))
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
    page = words(as_member.get(f"/loans/{loan.pk}/"))

    assert loan.due_reason.replace("'", "&#x27;") in page


def test_the_desk_hands_over_with_one_button(as_desk, packet, member, lend):
    loan = lend(packet, by=member)

    as_desk.post(f"/loans/{loan.pk}/hand-over/")

    loan.refresh_from_db()
    assert loan.handed_over_on == TODAY


def test_a_button_pressed_twice_says_so_and_changes_nothing(as_desk, loan, counts):
    before = counts()

    response = as_desk.post(f"/loans/{loan.pk}/hand-over/", follow=True)

    assert "This packet was handed over already." in words(response)
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


def test_a_failed_crop_is_told_in_one_form(as_member, loan):
    page = as_member.get(f"/loans/{loan.pk}/close/?outcome=crop_failed")
    as_member.post(f"/loans/{loan.pk}/close/", {"outcome": "crop_failed", "note": "hail"})

    loan.refresh_from_db()
    assert "checked" in words(page)
    assert (loan.outcome, loan.outcome_note) == ("crop_failed", "hail")


def test_a_failed_crop_without_a_word_is_asked_again(as_member, loan, counts):
    before = counts()

    response = as_member.post(f"/loans/{loan.pk}/close/", {"outcome": "crop_failed"})

    assert response.status_code == 400
    assert "Say in a few words what happened" in words(response)
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


def test_a_member_offers_seed_of_a_variety_that_is_known(as_member, variety):
    as_member.post(
        "/deposits/new/",
        {
            "crop": variety.crop_id,
            "name": "tarn kettle",
            "seeds": "300",
            "notice_read": "on",
            "plants_gave_seed": "12",
        },
    )

    deposit = Deposit.objects.get()
    assert (deposit.variety, deposit.seeds) == (variety, 300)
    assert deposit.growing == {"plants_gave_seed": 12}


def test_a_member_offers_seed_that_nobody_knows_yet(as_member, variety):
    as_member.post(
        "/deposits/new/",
        {"crop": variety.crop_id, "name": "Grey Fell", "notice_read": "on"},
    )

    deposit = Deposit.objects.get()
    assert (deposit.variety, deposit.new_variety_name) == (None, "Grey Fell")


def test_the_legal_notice_must_be_read(as_member, variety, counts):
    before = counts()

    response = as_member.post(
        "/deposits/new/", {"crop": variety.crop_id, "name": "Grey Fell", "seeds": "1"}
    )

    assert list(response.context["form"].errors) == ["notice_read"]
    assert counts() == before


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("seeds", "-1"),
        ("seeds", "0"),
        ("seeds", "2.5"),
        ("seeds", str(2**31)),
        ("seeds", str(10**30)),
        ("seeds", "many"),
        ("grams", "-1"),
        ("grams", "NaN"),
        ("grams", "1e30"),
        ("harvest_year", "2027"),
        ("harvest_year", "1066"),
        ("harvest_year", str(10**30)),
        ("plants_gave_seed", "-3"),
        ("isolation", "prayer"),
        ("isolation_distance_m", str(10**9)),
        ("crop", "99999999"),
        ("name", ""),
        ("name", "x" * 121),
        ("origin_region", "x" * 121),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(as_member, variety, counts, field, value):
    typed = {"crop": variety.crop_id, "name": "Grey Fell", "notice_read": "on"}
    before = counts()

    response = as_member.post("/deposits/new/", typed | {field: value})

    assert response.status_code == 400
    assert [len(errors) for errors in response.context["form"].errors.values()] == [1]
    assert list(response.context["form"].errors) == [field]
    assert counts() == before


def test_the_desk_receives_what_was_offered(as_desk, deposit, variety):
    page = as_desk.get(f"/deposits/{deposit.pk}/receive/")
    response = as_desk.post(
        f"/deposits/{deposit.pk}/receive/",
        {
            "crop": variety.crop_id,
            "name": "Tarn Kettle",
            "seeds": "290",
            "packets": "3",
            "seeds_each": "20",
        },
    )

    lot = Lot.objects.get()
    assert 'value="300"' in words(page)
    assert response.url == lot.get_absolute_url()
    assert (lot.loose, lot.packed, lot.packets.count()) == (230, 60, 3)


def test_the_desk_writes_a_card_while_receiving(as_desk, member, variety):
    deposit = services.propose_deposit(
        depositor=member, on=TODAY, crop=variety.crop, new_variety_name="Grey Fell"
    )

    as_desk.post(
        f"/deposits/{deposit.pk}/receive/",
        {
            "crop": variety.crop_id,
            "name": "Grey Fell",
            "seeds": "90",
            "breeding_status": "landrace",
        },
    )

    assert Lot.objects.get().variety.name == "Grey Fell"
    assert Lot.objects.get().variety.breeding_status == "landrace"


def test_the_desk_takes_in_seed_from_somebody_who_is_no_member(as_desk, variety):
    as_desk.post(
        "/desk/deposit/",
        {
            "crop": variety.crop_id,
            "name": "Tarn Kettle",
            "grams": "100",
            "source_name": "a neighbour up the beck",
        },
    )

    lot = Lot.objects.get()
    assert lot.source_name == "a neighbour up the beck"
    assert lot.balance == 325  # 100 g at 307 g for a thousand


def test_a_depositor_with_an_unknown_name_is_refused(as_desk, variety, counts):
    before = counts()

    response = as_desk.post(
        "/desk/deposit/",
        {"crop": variety.crop_id, "name": "Tarn Kettle", "seeds": "9", "depositor": "nobody"},
    )

    assert list(response.context["form"].errors) == ["depositor"]
    assert counts() == before


def test_the_desk_declines_with_a_reason(as_desk, deposit):
    as_desk.post(f"/deposits/{deposit.pk}/decline/", {"reason": "It is treated seed."})

    deposit.refresh_from_db()
    assert (deposit.state, deposit.decision_note) == ("declined", "It is treated seed.")


def test_a_member_withdraws_an_offer(as_member, deposit):
    as_member.post(f"/deposits/{deposit.pk}/withdraw/")

    deposit.refresh_from_db()
    assert deposit.state == "withdrawn"


def test_another_members_offer_is_not_found(client, deposit, other_member):
    client.force_login(other_member)

    assert client.get(f"/deposits/{deposit.pk}/").status_code == 404
    assert client.post(f"/deposits/{deposit.pk}/withdraw/").status_code == 404


def test_a_member_announces_seed(loan, autumn, as_member):
    page = as_member.get(f"/returns/new/?loan={loan.pk}")
    as_member.post(
        f"/returns/new/?loan={loan.pk}",
        {
            "loans": [loan.pk],
            "harvest_year": "2026",
            "plants_gave_seed": "14",
            "isolation": "distance",
            "isolation_distance_m": "40",
            "seeds": "400",
        },
    )

    announced = Return.objects.get()
    assert "checked" in words(page)
    assert (announced.plants_gave_seed, announced.isolation_distance_m) == (14, 40)
    assert announced.loan_links.get().loan == loan


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("harvest_year", "2025"),
        ("harvest_year", "2027"),
        ("harvest_year", ""),
        ("harvest_year", "2026.5"),
        ("seeds", "-1"),
        ("seeds", str(10**30)),
        ("plants_gave_seed", "2.5"),
        ("loans", "99999"),
        ("loans", ""),
        ("garden", "99999"),
    ],
)
def test_a_return_that_cannot_be_is_refused_at_its_field(
    loan, autumn, as_member, counts, field, value
):
    typed = {"loans": [loan.pk], "harvest_year": "2026"}
    before = counts()

    response = as_member.post(f"/returns/new/?loan={loan.pk}", typed | {field: value})

    assert response.status_code == 400
    assert list(response.context["form"].errors) == [field]
    assert counts() == before


def test_nobody_announces_seed_of_another_members_loan(client, loan, other_member):
    client.force_login(other_member)

    assert client.get(f"/returns/new/?loan={loan.pk}").status_code == 404


@pytest.mark.parametrize("loan_asked", ["", "x", "²", "1e3", str(10**30)])
def test_a_return_for_no_loan_is_not_found(as_member, loan_asked):
    assert as_member.get("/returns/new/", {"loan": loan_asked}).status_code == 404


def test_the_desk_receives_what_was_announced(announced, as_desk):
    as_desk.get(f"/returns/{announced.pk}/receive/")
    response = as_desk.post(f"/returns/{announced.pk}/receive/", {"seeds": "380"})

    lot = Lot.objects.get(origin="return")
    assert response.url == lot.get_absolute_url()
    assert lot.balance == 380


def test_announced_seed_is_received_as_announced_also_from_its_loan(announced, loan, as_desk):
    response = as_desk.get(f"/desk/return/?loan={loan.pk}")

    assert response.url == f"/returns/{announced.pk}/receive/"


def test_a_guess_does_not_silently_outdo_the_weight(announced, as_desk, counts):
    before = counts()

    response = as_desk.post(
        f"/returns/{announced.pk}/receive/", {"seeds": "400", "grams": "100"}
    )

    assert response.context["form"].errors == {
        "grams": ["Keep the count or the weight, whichever you took; empty the other."]
    }
    assert counts() == before


def test_the_desk_is_told_how_a_weight_was_read(announced, as_desk):
    response = as_desk.post(f"/returns/{announced.pk}/receive/", {"grams": "60"}, follow=True)

    # 307 g for a thousand common beans: Kew Seed Information Database.
    assert "Received 60 g at 307 g for a thousand: 195 seeds." in words(response)


def test_the_desk_finds_who_is_here_by_a_part_of_the_name(as_desk, member):
    page = as_desk.get("/desk/", {"who": "WRE"})

    assert f'href="/desk/?member={member.pk}"' in words(page)


def test_the_desk_receives_seed_that_nobody_announced(loan, autumn, as_desk):
    as_desk.get(f"/desk/return/?loan={loan.pk}")
    as_desk.post(
        f"/desk/return/?loan={loan.pk}",
        {"loans": [loan.pk], "harvest_year": "2026", "seeds": "200", "more_to_come": "on"},
    )

    loan.refresh_from_db()
    assert Lot.objects.get(origin="return").balance == 200
    assert loan.is_open


def test_seed_of_a_hybrid_is_asked_for_its_line(
    make_variety, make_packet, lend, april, client, desk
):
    hybrid = make_variety("Fell Star", breeding_status="f1")
    loan = lend(make_packet(hybrid))
    april.move_to(dt.datetime(2026, 10, 10, 9, tzinfo=dt.UTC))
    client.force_login(desk)
    typed = {"loans": [loan.pk], "harvest_year": "2026", "seeds": "200"}

    refused = client.post(f"/desk/return/?loan={loan.pk}", typed)
    client.post(
        f"/desk/return/?loan={loan.pk}",
        typed | {"new_line": "Fell Star offspring", "new_generation": "2"},
    )

    line = Lot.objects.get(origin="return").variety
    assert list(refused.context["form"].errors) == ["variety"]
    assert (line.name, line.breeding_status, line.generation) == (
        "Fell Star offspring",
        "segregating",
        2,
    )


def test_a_member_withdraws_an_announcement(announced, as_member):
    as_member.post(f"/returns/{announced.pk}/withdraw/")

    announced.refresh_from_db()
    assert announced.state == "withdrawn"


def test_my_seed_shows_mine_and_nobody_elses(client, loan, other_member, member, packet):
    client.force_login(member)
    mine = words(client.get("/my-seed/"))
    client.force_login(other_member)
    theirs = words(client.get("/my-seed/"))

    assert packet.code in mine
    assert packet.code not in theirs


def test_a_coordinator_changes_the_rules_and_anyone_reads_them(as_coordinator, client):
    as_coordinator.post(
        "/lending/rules/",
        {
            "max_open_loans": "7",
            "max_packets_of_variety": "1",
            "grace_days": "45",
            "reserve_sowings": "3",
            "exchange_notice": "Bring what you would like to get.",
        },
    )
    client.logout()

    page = words(client.get("/exchange/"))

    assert LendingRules.current().max_open_loans == 7
    assert "A member may have 7 packets out at a time, 1 of one variety." in page
    assert "Bring what you would like to get." in page


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("max_open_loans", "0"),
        ("reserve_sowings", "11"),
        ("grace_days", "-1"),
        ("max_open_loans", "99999999"),
        ("grace_days", "1.5"),
    ],
)
def test_rules_that_cannot_be_are_refused(as_coordinator, field, value):
    rules = {
        "max_open_loans": "7",
        "max_packets_of_variety": "1",
        "grace_days": "45",
        "reserve_sowings": "3",
    }

    response = as_coordinator.post("/lending/rules/", rules | {field: value})

    assert response.status_code == 400
    assert LendingRules.current().max_open_loans == 12


DESK_ONLY = [
    "desk",
    "desk-members",
    "deposit-at-desk",
    "return-at-desk",
    "lending-rules",
]


@pytest.mark.parametrize("name", DESK_ONLY)
def test_a_member_does_not_find_the_pages_of_the_desk(as_member, name):
    assert as_member.get(reverse(name)).status_code == 404


@pytest.mark.parametrize("how_many", [1, 6])
def test_the_desk_costs_the_same_however_much_waits(
    as_desk,
    make_lot,
    make_variety,
    member,
    make_member,
    lend,
    how_many,
    django_assert_num_queries,
):
    LendingRules.objects.update_or_create(pk=1, defaults={"max_open_loans": 100})
    for number in range(how_many):
        bean = make_variety(crop="drying bean")
        chosen, out, back = make_lot(bean, seeds=600, packets=3).packets.all()
        person = make_member(f"person {number}")
        lend(chosen, borrower=person, by=person)
        lend(out, borrower=member)
        returning = lend(back, borrower=person)
        services.propose_deposit(depositor=member, on=TODAY, variety=bean)
        services.announce_return(
            member=person, loans=[returning], on=TODAY, by=person, harvest_year=2026
        )
    Loan.objects.filter(borrower=member).update(lent_on="2025-10-02", due_on="2026-01-01")

    with django_assert_num_queries(DESK_QUERIES):
        page = as_desk.get(f"/desk/?member={member.pk}")

    assert len(page.context["deposits"]) == how_many
    assert len(page.context["returns"]) == how_many


@pytest.mark.parametrize("how_many", [1, 6])
def test_my_seed_costs_the_same_however_much_there_is(
    as_member, make_lot, make_variety, member, lend, how_many, django_assert_num_queries
):
    LendingRules.objects.update_or_create(pk=1, defaults={"max_open_loans": 100})
    for _ in range(how_many):
        bean = make_variety(crop="drying bean")
        first, second = make_lot(bean, seeds=600, packets=2).packets.all()
        lend(first)
        past = lend(second)
        services.propose_deposit(depositor=member, on=TODAY, variety=bean)
        services.return_at_desk(
            loans=[past], on=TODAY, by=past.lent_by, harvest_year=2026, seeds=50
        )

    with django_assert_num_queries(MY_SEED_QUERIES):
        page = as_member.get("/my-seed/")

    assert len(page.context["grown"]) == how_many


DESK_QUERIES = 11
MY_SEED_QUERIES = 12


def test_at_the_desk_a_packet_that_is_out_says_so_before_anybody_is_chosen(
    as_desk, packet, lend
):
    lend(packet)

    page = as_desk.get(reverse("loan-new"), {"packet": packet.code})

    assert f"Packet {packet.code} is not on the shelf: it is lent." in words(page)
