"""The desk over the API: the same verbs, the same refusals, tried twice without harm."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Garden
from library.lending import services
from library.lending.models import Deposit, LendingRules, Loan
from library.outbox.models import Message
from library.stock.models import Lot
from tests.lending.conftest import TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def as_(api):
    """``as_(member)`` is the API as that person sees it."""

    def person(who):
        api.force_authenticate(who)
        return api

    return person


@pytest.fixture
def deposit(member, variety):
    return services.propose_deposit(depositor=member, on=TODAY, variety=variety, seeds=300)


@pytest.fixture
def announced(loan, member):
    return services.announce_return(
        member=member, loans=[loan], on=TODAY, by=member, harvest_year=2026, seeds=400
    )


def test_a_member_borrows_for_themselves(as_, member, packet):
    response = as_(member).post("/api/loans/", {"packet": packet.code})

    assert response.status_code == 201
    assert response.json() == {
        "id": Loan.objects.get().pk,
        "state": "to_collect",
        "packet": packet.code,
        "seeds": 20,
        "lot": packet.lot.number,
        "variety": {
            "id": packet.lot.variety_id,
            "name": "Tarn Kettle",
            "crop": "drying bean",
        },
        "borrower": "wren",
        "garden": None,
        "lent_on": "2026-04-15",
        "handed_over_on": None,
        "due_on": "2027-06-14",
        "due_reason": Loan.objects.get().due_reason,
        "due_rule": "due_annual_garden_unknown",
        "due_inputs": Loan.objects.get().due_inputs,
        "closed_on": None,
        "outcome": "",
        "outcome_note": "",
        "override_reason": "",
    }


def test_the_desk_lends_to_a_member_by_name(as_, desk, member, packet):
    response = as_(desk).post("/api/loans/", {"packet": packet.code, "borrower": "WREN"})

    assert response.json()["state"] == "out"
    assert Loan.objects.get().borrower == member


def test_a_request_sent_twice_lends_once(as_, member, packet):
    sent = {"data": {"packet": packet.code}, "headers": {"Idempotency-Key": "one"}}

    first = as_(member).post("/api/loans/", **sent)
    again = as_(member).post("/api/loans/", **sent)

    assert (first.status_code, again.status_code) == (201, 201)
    assert again.headers["Idempotent-Replay"] == "true"
    assert first.json() == again.json()
    assert Loan.objects.count() == 1


def test_a_member_cannot_borrow_for_another(as_, member, other_member, packet, counts):
    before = counts()

    response = as_(member).post("/api/loans/", {"packet": packet.code, "borrower": "rook"})

    assert response.status_code == 403
    assert counts() == before


def test_a_member_does_not_learn_who_is_a_member(as_, member, other_member, packet):
    known = as_(member).post("/api/loans/", {"packet": packet.code, "borrower": "rook"})
    unknown = as_(member).post("/api/loans/", {"packet": packet.code, "borrower": "nobody"})

    assert known.json() == unknown.json()


@pytest.mark.parametrize(
    ("sent", "status", "field"),
    [
        ({}, 400, "packet"),
        ({"packet": ""}, 400, "packet"),
        ({"packet": 7}, 400, "code"),
        ({"packet": "P000001-X"}, 400, "code"),
        ({"packet": "\u0000"}, 400, "packet"),
        ({"packet": "x" * 41}, 400, "packet"),
        ({"on": "2026-04-31"}, 400, "on"),
        ({"on": "2026-04-14"}, 403, "on"),
        ({"garden": 10**30}, 400, "garden"),
        ({"garden": -1}, 400, "garden"),
        ({"garden": "x"}, 400, "garden"),
        ({"override_reason": "please"}, 403, "override_reason"),
        ({"override_reason": "x" * 251}, 400, "override_reason"),
    ],
)
def test_what_cannot_be_lent_is_refused_at_its_field(
    as_, member, packet, counts, sent, status, field
):
    before = counts()
    whole = sent if not sent or "packet" in sent else {"packet": packet.code} | sent

    response = as_(member).post("/api/loans/", whole)

    body = response.json()
    assert response.status_code == status
    assert body["field"].partition(".")[0] == field
    assert counts() == before


def test_a_code_that_nothing_carries_is_not_found(as_, member, packet):
    from library.science.codes import packet_code

    response = as_(member).post("/api/loans/", {"packet": packet_code(999_999)})

    assert (response.status_code, response.json()["code"]) == (404, "unknown_code")


def test_a_lot_number_is_no_packet(as_, member, packet):
    response = as_(member).post("/api/loans/", {"packet": packet.lot.number})

    assert response.status_code == 400
    assert response.json()["detail"].endswith("scan the code of one of its packets.")


def test_a_packet_that_is_out_is_a_conflict(as_, loan, other_member, counts):
    before = counts()

    response = as_(other_member).post("/api/loans/", {"packet": loan.packet.code})

    assert (response.status_code, response.json()["code"]) == (409, "conflict")
    assert counts() == before


def test_the_reserve_is_not_enough(as_, member, variety, make_packet):
    response = as_(member).post("/api/loans/", {"packet": make_packet(variety, seeds=30).code})

    assert (response.status_code, response.json()["code"]) == (409, "not_enough")


def test_somebody_elses_garden_is_as_good_as_none(as_, member, other_member, packet):
    theirs = Garden.objects.create(member=other_member, name="Elsewhere")

    response = as_(member).post("/api/loans/", {"packet": packet.code, "garden": theirs.pk})

    assert response.status_code == 400
    assert response.json()["detail"].startswith("There is none with the number")


def test_a_garden_is_shown_to_its_member_and_to_coordinators_only(
    as_, garden, loan, member, desk, coordinator
):
    shown = [
        as_(who).get(f"/api/loans/{loan.pk}/").json()["garden"]
        for who in (member, desk, coordinator)
    ]

    assert shown == [garden.pk, None, garden.pk]


def test_members_see_their_own_loans_and_the_desk_everybodys(
    as_, loan, member, other_member, desk
):
    seen = [as_(who).get("/api/loans/").json()["count"] for who in (member, other_member, desk)]
    mine = as_(desk).get("/api/loans/", {"mine": "true"}).json()["count"]

    assert (seen, mine) == ([1, 0, 1], 0)


def test_nothing_of_the_desk_is_for_applicants_or_strangers(api, as_, applicant):
    places = [f"/api/{name}/" for name in ("loans", "deposits", "returns", "loans/guidance")]
    strangers = [api.get(place).status_code for place in places]

    applicants = [as_(applicant).get(place).status_code for place in places]

    assert (strangers, applicants) == ([401] * 4, [404] * 4)


ACTIONS = [
    ("close", {"outcome": "nothing_to_return"}),
    ("hand-over", {}),
    ("take-back", {}),
    ("cancel", {}),
    ("extend", {"due_on": "2027-01-01", "reason": "x"}),
    ("garden", {"garden": 1}),
]


@pytest.mark.parametrize(("action", "sent"), ACTIONS)
def test_another_members_loan_is_not_found(as_, loan, other_member, counts, action, sent):
    before = counts()

    response = as_(other_member).post(f"/api/loans/{loan.pk}/{action}/", sent)

    assert response.status_code == 404
    assert counts() == before


@pytest.mark.parametrize(("action", "sent"), [ACTIONS[1], ACTIONS[2], ACTIONS[4]])
def test_a_member_does_not_do_the_desks_work_on_their_own_loan(
    as_, loan, member, counts, action, sent
):
    before = counts()

    response = as_(member).post(f"/api/loans/{loan.pk}/{action}/", sent)

    assert (response.status_code, response.json()["code"]) == (403, "not_allowed")
    assert counts() == before


def test_a_loan_is_closed_once(as_, loan, member, counts):
    client, place = as_(member), f"/api/loans/{loan.pk}/close/"

    first = client.post(place, {"outcome": "crop_failed", "note": "hail"})
    before = counts()
    second = client.post(place, {"outcome": "crop_failed", "note": "hail"})

    assert (first.status_code, first.json()["outcome"]) == (200, "crop_failed")
    assert (second.status_code, second.json()["code"]) == (409, "conflict")
    assert counts() == before


def test_the_desk_hands_over_takes_back_and_extends(as_, packet, member, desk, lend):
    loan = lend(packet, by=member)
    client = as_(desk)

    handed = client.post(f"/api/loans/{loan.pk}/hand-over/")
    longer = client.post(
        f"/api/loans/{loan.pk}/extend/", {"due_on": "2027-09-01", "reason": "sown late"}
    )
    back = client.post(f"/api/loans/{loan.pk}/take-back/", {"note": "no room"})

    assert handed.json()["state"] == "out"
    assert longer.json()["due_on"] == "2027-09-01"
    assert (back.json()["outcome"], back.json()["outcome_note"]) == ("taken_back", "no room")


@pytest.mark.parametrize("day", ["2027-02-30", "soon", 20270101, "2026-04-01", "9999-12-31"])
def test_a_due_date_that_cannot_be_is_refused(as_, loan, desk, day, counts):
    before = counts()

    response = as_(desk).post(f"/api/loans/{loan.pk}/extend/", {"due_on": day, "reason": "x"})

    assert response.status_code == 400
    assert counts() == before


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({"state": "out"}, 1),
        ({"state": "open"}, 1),
        ({"state": "to_collect"}, 0),
        ({"state": "closed"}, 0),
        ({"state": "overdue"}, 0),
        ({"due_until": "2027-06-13"}, 0),
        ({"due_until": "2027-06-14"}, 1),
        ({"due_from": "2027-06-15"}, 0),
        ({"outcome": "crop_failed"}, 0),
    ],
)
def test_loans_are_filtered(as_, loan, member, asked, found):
    assert as_(member).get("/api/loans/", asked).json()["count"] == found


def test_loans_are_filtered_by_variety(as_, loan, member, make_variety):
    other = make_variety()
    client = as_(member)

    counts = [
        client.get("/api/loans/", {"variety": pk}).json()["count"]
        for pk in (loan.packet.lot.variety_id, other.pk)
    ]

    assert counts == [1, 0]


@pytest.mark.parametrize(
    "asked",
    [
        {"state": "eaten"},
        {"due_until": "2026-13-01"},
        {"variety": str(10**30)},
        {"variety": "x"},
        {"variety": "\x00"},
        {"outcome": "x"},
    ],
)
@pytest.mark.parametrize("resource", ["loans"])
def test_a_filter_that_cannot_be_is_refused(as_, member, resource, asked):
    assert as_(member).get(f"/api/{resource}/", asked).status_code == 400


def test_guidance_is_what_the_page_shows(as_, member, packet, garden):
    cold = Garden.objects.create(
        member=member, name="Cold", last_spring_frost="06-10", first_autumn_frost="10-01"
    )

    told = (
        as_(member)
        .get("/api/loans/guidance/", {"packet": packet.code, "garden": cold.pk})
        .json()
    )

    assert (told["plants"], told["isolation_at_least_m"]) == (10, 6)
    assert told["due"]["day"] == "2026-11-30"
    assert told["sow_from"] == "2026-06-10"
    assert told["why_not"] == ""


@pytest.mark.parametrize("garden", ["x", "0", str(10**30), "-1"])
def test_guidance_for_a_garden_that_is_not_mine_is_refused(as_, member, packet, garden):
    response = as_(member).get(
        "/api/loans/guidance/", {"packet": packet.code, "garden": garden}
    )

    assert response.status_code == 400
    assert response.json()["field"] == "garden"


def test_guidance_needs_a_packet(as_, member):
    assert as_(member).get("/api/loans/guidance/").status_code == 400


def test_a_member_offers_seed(as_, member, variety):
    response = as_(member).post(
        "/api/deposits/",
        {"variety": variety.pk, "grams": "12.5", "growing": {"plants_gave_seed": 9}},
    )

    body = response.json()
    assert response.status_code == 201
    assert (body["state"], body["depositor"], body["grams"]) == ("proposed", "wren", "12.500")


def test_the_desk_receives_declines_and_shows_no_email(as_, deposit, desk, member):
    received = as_(desk).post(
        f"/api/deposits/{deposit.pk}/receive/",
        {"seeds": 250, "packets": 2, "seeds_each": 25},
    )
    other = services.propose_deposit(
        depositor=member, on=TODAY, variety=deposit.variety, seeds=1
    )
    declined = as_(desk).post(f"/api/deposits/{other.pk}/decline/", {"reason": "treated"})
    everything = as_(desk).get("/api/deposits/").content + received.content + declined.content

    assert received.json()["packets"] == [p.code for p in Lot.objects.get().packets.all()]
    assert declined.json()["decision_note"] == "treated"
    assert Message.objects.get().to == member.email
    assert b"@" not in everything


def test_the_desk_takes_seed_in_at_once(as_, desk, member, variety):
    response = as_(desk).post(
        "/api/deposits/",
        {
            "depositor": "wren",
            "variety": variety.pk,
            "harvest_year": 2025,
            "receive": {"seeds": 90, "packets": 2, "seeds_each": 30},
        },
    )

    lot = Lot.objects.get()
    assert response.status_code == 201
    assert (response.json()["lot"], response.json()["state"]) == (lot.number, "received")
    assert (lot.packed, lot.harvest_year) == (60, 2025)


def test_the_desk_takes_in_seed_of_a_new_name(as_, desk, variety):
    card = {"crop": variety.crop.slug, "name": "Grey Fell", "breeding_status": "landrace"}

    response = as_(desk).post("/api/deposits/", {"receive": {"seeds": 90, "new_card": card}})

    assert response.json()["variety"]["name"] == "Grey Fell"


def test_a_member_cannot_receive_what_they_offer(as_, member, variety, counts):
    before = counts()

    response = as_(member).post(
        "/api/deposits/", {"variety": variety.pk, "receive": {"seeds": 90}}
    )

    assert response.status_code == 403
    assert counts() == before


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"seeds": -1}, "seeds"),
        ({"seeds": 0}, "seeds"),
        ({"seeds": 1.5}, "seeds"),
        ({"seeds": "many"}, "seeds"),
        ({"seeds": 2**31}, "seeds"),
        ({"seeds": 10**30}, "seeds"),
        ({"grams": -1}, "grams"),
        ({"grams": "1e400"}, "grams"),
        ({"grams": "NaN"}, "grams"),
        ({"harvest_year": 2027}, "harvest_year"),
        ({"harvest_year": -5}, "harvest_year"),
        ({"harvest_year": 10**30}, "harvest_year"),
        ({"variety": 10**30}, "variety"),
        ({"variety": 999_999}, "variety"),
        ({"variety": None}, "variety"),
        ({"crop": "moonbean"}, "crop"),
        ({"growing": {"plants_gave_seed": -1}}, "plants_gave_seed"),
        ({"growing": {"plants_gave_seed": 10**30}}, "plants_gave_seed"),
        ({"growing": {"isolation": "prayer"}}, "growing"),
        ({"growing": []}, "growing"),
        ({"source_name": "a neighbour"}, "source_name"),
    ],
)
def test_an_offer_that_cannot_be_is_refused_at_its_field(
    as_, member, variety, counts, sent, field
):
    before = counts()

    response = as_(member).post("/api/deposits/", {"variety": variety.pk} | sent)

    body = response.json()
    assert response.status_code == 400
    assert body["field"].partition(".")[0] == field
    assert counts() == before


@pytest.mark.parametrize("body", ["", "[]", "7", '"x"', "{", "null"])
@pytest.mark.parametrize("place", ["loans", "deposits", "returns"])
def test_a_body_that_is_no_object_is_refused(as_, member, counts, place, body):
    before = counts()

    response = as_(member).post(f"/api/{place}/", data=body, content_type="application/json")

    assert response.status_code == 400
    assert counts() == before


def test_another_members_offer_is_not_found(as_, deposit, other_member):
    client = as_(other_member)

    statuses = [client.get(f"/api/deposits/{deposit.pk}/").status_code] + [
        client.post(f"/api/deposits/{deposit.pk}/{action}/", {"reason": "x"}).status_code
        for action in ("receive", "decline", "withdraw")
    ]

    assert statuses == [404] * 4


def test_a_member_withdraws_their_offer(as_, deposit, member):
    response = as_(member).post(f"/api/deposits/{deposit.pk}/withdraw/")

    assert response.json()["state"] == "withdrawn"


def test_a_member_announces_a_return(as_, loan, member):
    response = as_(member).post(
        "/api/returns/",
        {"loans": [loan.pk], "harvest_year": 2026, "growing": {"plants_gave_seed": 12}},
    )

    body = response.json()
    assert response.status_code == 201
    assert (body["loans"], body["growing"]["plants_gave_seed"]) == ([loan.pk], 12)


def test_the_desk_receives_a_return_twice_asked_once(as_, announced, desk):
    sent = {"data": {"seeds": 380}, "headers": {"Idempotency-Key": "two"}}
    place = f"/api/returns/{announced.pk}/receive/"

    first = as_(desk).post(place, **sent)
    again = as_(desk).post(place, **sent)

    assert (first.status_code, first.json()) == (201, again.json())
    assert Lot.objects.filter(origin="return").count() == 1


def test_the_desk_takes_a_return_in_at_once(as_, loan, desk):
    response = as_(desk).post(
        "/api/returns/",
        {"loans": [loan.pk], "harvest_year": 2026, "receive": {"grams": "30.7"}},
    )

    assert response.json()["state"] == "received"
    assert Lot.objects.get(origin="return").balance == 100


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"loans": []}, "loans"),
        ({"loans": [10**30]}, "loans"),
        ({"loans": ["x"]}, "loans"),
        ({"loans": "x"}, "loans"),
        ({"harvest_year": 2025}, "harvest_year"),
        ({"harvest_year": 2027}, "harvest_year"),
        ({"harvest_year": None}, "harvest_year"),
        ({"harvest_year": "2026-04"}, "harvest_year"),
        ({"seeds": 0}, "seeds"),
        ({"seeds": 10**30}, "seeds"),
        ({"garden": 424242}, "garden"),
        ({"growing": {"plants_stood": 2, "plants_gave_seed": 3}}, "plants_gave_seed"),
    ],
)
def test_a_return_that_cannot_be_is_refused_at_its_field(
    as_, loan, member, counts, sent, field
):
    before = counts()

    response = as_(member).post(
        "/api/returns/", {"loans": [loan.pk], "harvest_year": 2026} | sent
    )

    body = response.json()
    assert response.status_code == 400
    assert body["field"].partition(".")[0] == field
    assert counts() == before


def test_another_members_loan_cannot_be_returned(as_, loan, other_member, counts):
    before = counts()

    response = as_(other_member).post(
        "/api/returns/", {"loans": [loan.pk], "harvest_year": 2026}
    )

    assert (response.status_code, response.json()["field"]) == (400, "loans")
    assert counts() == before


def test_another_members_return_is_not_found(as_, announced, other_member):
    client = as_(other_member)

    statuses = [client.get(f"/api/returns/{announced.pk}/").status_code] + [
        client.post(f"/api/returns/{announced.pk}/{action}/").status_code
        for action in ("receive", "withdraw")
    ]

    assert statuses == [404] * 3


@pytest.mark.parametrize("how_many", [1, 6])
@pytest.mark.parametrize(
    ("resource", "queries"), [("loans", 3), ("deposits", 3), ("returns", 4)]
)
def test_a_list_costs_the_same_however_long_it_is(
    as_,
    desk,
    member,
    make_lot,
    make_variety,
    lend,
    how_many,
    resource,
    queries,
    django_assert_num_queries,
):
    LendingRules.objects.update_or_create(pk=1, defaults={"max_open_loans": 100})
    for _ in range(how_many):
        loan = lend(make_lot(make_variety(crop="drying bean"), packets=1).packets.get())
        services.propose_deposit(depositor=member, on=TODAY, variety=loan.packet.lot.variety)
        services.announce_return(
            member=member, loans=[loan], on=TODAY, by=member, harvest_year=2026
        )

    with django_assert_num_queries(queries):
        body = as_(desk).get(f"/api/{resource}/").json()

    assert body["count"] == how_many


def test_what_the_desk_wrote_down_later_keeps_its_day(as_, desk, member, packet):
    response = as_(desk).post(
        "/api/loans/", {"packet": packet.code, "borrower": "wren", "on": "2026-04-10"}
    )

    assert response.json()["lent_on"] == "2026-04-10"
    assert Deposit.objects.count() == 0
    assert Loan.objects.get().handed_over_on == dt.date(2026, 4, 10)
