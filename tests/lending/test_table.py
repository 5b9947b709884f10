"""The swap table: the same services as the desk, from a packet's code."""

from __future__ import annotations

import datetime as dt
import re
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.contrib.staticfiles import finders
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from rest_framework.test import APIClient

from library.lending.models import Loan
from library.lending.services import lend_packet
from library.stock.models import Packet

LEND, BACK = "/api/table/lend/", "/api/table/take-back/"


@pytest.fixture
def packet(make_packet, variety) -> Packet:
    return make_packet(variety)


@pytest.fixture
def on_phone(api, desk):
    api.force_authenticate(desk)
    return api


@pytest.mark.django_db
def test_lending_hands_over_and_a_lost_answer_is_asked_for_again(on_phone, packet, member):
    sent = {"packet": packet.code, "borrower": "wren"}
    first = on_phone.post(LEND, sent, headers={"Idempotency-Key": "one"})
    again = on_phone.post(LEND, sent, headers={"Idempotency-Key": "one"})

    assert (first.status_code, again.status_code) == (201, 201)
    assert again.headers["Idempotent-Replay"] == "true"
    assert Loan.objects.get().handed_over_on == timezone.localdate()


@pytest.mark.django_db
def test_a_packet_that_was_chosen_is_handed_over_to_its_member_only(
    on_phone, packet, member, other_member
):
    loan = lend_packet(packet=packet, borrower=member, on=timezone.localdate(), by=member)

    theirs = on_phone.post(LEND, {"packet": packet.code, "borrower": "rook"})
    own = on_phone.post(LEND, {"packet": packet.code, "borrower": "wren"})

    assert (theirs.status_code, own.status_code) == (409, 201)
    assert (own.json()["id"], own.json()["state"]) == (loan.pk, "out")


@pytest.mark.django_db
def test_taking_back_moves_the_seed_back_and_is_refused_when_nobody_has_it(
    on_phone, packet, member
):
    on_phone.post(LEND, {"packet": packet.code, "borrower": "wren"})

    back = on_phone.post(BACK, {"packet": packet.code})
    twice = on_phone.post(BACK, {"packet": packet.code})

    packet.refresh_from_db()
    assert (back.status_code, twice.status_code) == (200, 409)
    assert back.json()["outcome"] == "taken_back"
    assert packet.state == Packet.State.ON_SHELF
    assert "Nobody has packet" in twice.json()["detail"]


@pytest.mark.django_db
def test_undoing_a_loan_does_not_end_a_later_one(on_phone, packet, member, other_member):
    first = on_phone.post(LEND, {"packet": packet.code, "borrower": "wren"}).json()["id"]
    on_phone.post(BACK, {"packet": packet.code})
    on_phone.post(LEND, {"packet": packet.code, "borrower": "rook"})

    late = on_phone.post(BACK, {"packet": packet.code, "loan": first})

    assert late.status_code == 409
    assert Loan.objects.open().get().borrower == other_member


@pytest.mark.django_db
def test_what_another_volunteer_did_is_not_sent_in_ones_own_name(
    on_phone, packet, member, desk
):
    answers = [
        on_phone.post(path, {"packet": packet.code, "borrower": "wren", "done_by": desk.pk + 1})
        for path in (LEND, BACK)
    ]

    assert {(a.status_code, a.json()["code"]) for a in answers} == {(409, "another_volunteer")}
    assert not Loan.objects.exists()


@pytest.mark.django_db
def test_what_was_done_yesterday_without_reception_is_written_down_for_yesterday(
    on_phone, packet, member
):
    yesterday = timezone.localdate() - dt.timedelta(days=1)
    told = {"packet": packet.code, "borrower": "wren", "on": yesterday.isoformat()}

    assert on_phone.post(LEND, told).json()["lent_on"] == yesterday.isoformat()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("code", "status"), [("P000001-1", 400), ("P999999-X", 400), ("", 400), ("L00001-X", 400)]
)
def test_a_mistyped_code_is_refused_in_words(on_phone, member, code, status):
    answer = on_phone.post(LEND, {"packet": code, "borrower": "wren"})

    assert answer.status_code == status
    assert answer.json()["detail"]


@pytest.mark.django_db
def test_the_table_counts_ones_own_day_and_names_people_without_an_address(
    on_phone, make_packet, member, other_member, desk, coordinator
):
    packets = [make_packet() for _ in range(3)]
    for packet in packets[:2]:
        on_phone.post(LEND, {"packet": packet.code, "borrower": "wren"})
    on_phone.post(BACK, {"packet": packets[0].code})
    lend_packet(
        packet=packets[2], borrower=other_member, on=timezone.localdate(), by=coordinator
    )

    told = on_phone.get("/api/table/")

    assert (told.json()["lent"], told.json()["taken_back"]) == (2, 1)
    assert {"wren", "rook", "heron"} <= set(told.json()["people"])
    assert told.json()["me"] == desk.pk
    assert "@" not in told.content.decode()


@pytest.mark.django_db
def test_the_page_lends_takes_back_and_undoes_without_a_script(as_desk, packet, member):
    lent = as_desk.post(
        "/table/", {"do": "lend", "who": "Wren", "code": packet.code.lower()}, follow=True
    )
    page = lent.content.decode()
    assert "Lent Tarn Kettle" in page
    assert "Lent to wren." in page

    undone = as_desk.post(
        "/table/", {"do": "back", "code": packet.code, "who": "wren"}, follow=True
    )
    assert "is back on the shelf" in undone.content.decode()
    assert Loan.objects.get().outcome == Loan.Outcome.TAKEN_BACK
    packet.refresh_from_db()
    assert packet.state == Packet.State.ON_SHELF

    as_desk.post("/table/", {"do": "lend", "who": "wren", "code": packet.code})
    seed = as_desk.post("/table/", {"do": "seed", "code": packet.code})
    assert seed.url == f"/desk/return/?loan={Loan.objects.open().get().pk}"


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("sent", "status", "sentence"),
    [
        ({"do": "lend", "who": ""}, 400, "Say first who borrows it."),
        ({"do": "lend", "who": "nobody"}, 400, "No approved member is called"),
        ({"do": "back"}, 409, "Nobody has packet"),
        ({"do": "seed"}, 409, "Nobody has packet"),
        ({"do": "eat"}, 400, "is not one of the available choices"),
    ],
)
def test_the_page_keeps_what_was_typed_when_it_refuses(as_desk, packet, sent, status, sentence):
    page = as_desk.post("/table/", {"code": packet.code} | sent)

    assert page.status_code == status
    assert sentence in page.content.decode()
    assert packet.code in page.content.decode()
    assert not Loan.objects.exists()


@pytest.mark.django_db
def test_the_page_asks_as_much_for_one_loan_as_for_six(as_desk, make_packet, make_member, desk):
    counts = []
    for more in (1, 5):
        for _ in range(more):
            packet, borrower = make_packet(), make_member(f"wren {Loan.objects.count()}")
            lend_packet(packet=packet, borrower=borrower, on=timezone.localdate(), by=desk)
        with CaptureQueriesContext(connection) as asked:
            page = as_desk.get("/table/")
        assert page.status_code == 200
        counts.append(len(asked))

    assert counts[0] == counts[1]


@pytest.mark.django_db
def test_the_worker_keeps_the_tables_own_files_and_they_are_all_there(client):
    answer = client.get("/table/worker.js")
    text = answer.content.decode()

    assert answer["Content-Type"].startswith("text/javascript")
    assert "no-store" in answer["Cache-Control"]
    assert re.search(r'"sowback-table-[0-9a-f]{16}"', text)
    addresses = re.findall(r'"/static/([^"]+)"', text.replace("\\u002D", "-"))
    assert "lending/table/table.js" in addresses
    assert [name for name in addresses if finders.find(name) is None] == []


@pytest.mark.django_db(transaction=True)
def test_two_phones_that_scan_the_same_packet_make_one_loan(
    packet, member, other_member, desk, coordinator
):
    if connection.vendor != "postgresql":
        pytest.skip("writers take turns on SQLite")
    together = Barrier(2)

    def scan(who: tuple) -> int:
        volunteer, borrower = who
        phone = APIClient()
        phone.force_authenticate(volunteer)
        together.wait()
        try:
            return phone.post(LEND, {"packet": packet.code, "borrower": borrower}).status_code
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as phones:
        answers = list(phones.map(scan, [(desk, "wren"), (coordinator, "rook")]))

    assert sorted(answers) == [201, 409]
    assert Loan.objects.count() == 1
