"""Much paper: made in the background once, with progress, stopped, resumed, forgotten."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from library.errors import Conflict
from library.outbox import worker
from library.paper import running, services
from library.paper.models import PrintJob
from library.paper.tasks import forget_print_jobs
from tests.paper.conftest import ON
from tests.paper.reading import squares

State = PrintJob.State


@pytest.fixture
def lot(make_lot):
    return make_lot(seeds=3000, packets=70, seeds_each=20)


@pytest.fixture
def given(lot, sheet, desk):
    return services.prepared(kind="labels", keys=[lot.number], by=desk, on=ON, sheet=sheet)


@pytest.fixture
def job(given, desk) -> PrintJob:
    return services.ask_print(given, by=desk)


def test_much_is_made_in_the_background_and_fetched(client, desk, lot, sheet):
    client.force_login(desk)
    sent = {"codes": lot.number, "kind": "labels", "sheet": sheet.pk, "start": 1}

    first = client.post(reverse("printing"), sent)
    again = client.post(reverse("printing"), sent)
    waiting = client.get(first["Location"], headers={"HX-Request": "true"})
    running.work_on(running.claim_next(worker="w"))
    asked_again = client.get(first["Location"], headers={"HX-Request": "true"})
    file = client.get(reverse("print-job-file", args=[PrintJob.objects.get().identifier]))

    assert first["Location"] == again["Location"]
    assert b"<progress" in waiting.content
    assert asked_again["HX-Refresh"] == "true"
    assert file["Content-Type"] == "application/pdf"
    codes = {f"/packets/{code}/" for code in lot.packets.values_list("code", flat=True)}
    assert {
        one.text.removeprefix("http://localhost:8000") for one in squares(file.content)
    } == codes
    assert len(codes) == 70


def test_it_says_how_far_it_is(job, monkeypatch):
    noted = []
    monkeypatch.setattr(running, "NOTES_EVERY_S", 0)
    look = running._look
    monkeypatch.setattr(
        running, "_look", lambda mine, made: (noted.append(made), look(mine, made))
    )

    running.work_on(running.claim_next(worker="w"))

    assert noted == [*range(1, 71), 70]
    job.refresh_from_db()
    assert (job.state, job.made, job.total) == (State.DONE, 70, 70)


def test_a_job_is_stopped_before_and_while_it_is_made(job, given, desk, monkeypatch):
    services.stop_print(job=job, by=desk)
    job.refresh_from_db()
    assert job.state == State.STOPPED
    assert running.claim_next(worker="w") is None

    second = services.ask_print(given, by=desk)
    claimed = running.claim_next(worker="w")
    services.stop_print(job=second, by=desk)
    monkeypatch.setattr(running, "NOTES_EVERY_S", 0)
    running.work_on(claimed)

    second.refresh_from_db()
    assert (second.state, second.content) == (State.STOPPED, None)
    with pytest.raises(Conflict):
        services.stop_print(job=second, by=desk)


def test_one_worker_gets_it_and_another_takes_over_from_the_dead(job):
    first = running.claim_next(worker="a")
    assert running.claim_next(worker="b") is None

    PrintJob.objects.update(heard_at=timezone.now() - running.SILENT_FOR * 2)
    second = running.claim_next(worker="b")
    running.work_on(first)  # it was only slow: its work is no longer wanted
    job.refresh_from_db()
    assert (job.state, job.worker) == (State.WORKING, "b")

    running.work_on(second)
    job.refresh_from_db()
    assert job.state == State.DONE


def test_what_ends_every_worker_is_given_up(job):
    for _ in range(running.MOST_TRIES):
        assert running.claim_next(worker="w") is not None
        PrintJob.objects.update(heard_at=None)

    assert running.claim_next(worker="w") is None
    job.refresh_from_db()
    assert job.state == State.FAILED


def test_a_server_that_ends_hands_it_back(job, monkeypatch):
    claimed = running.claim_next(worker="w")
    monkeypatch.setattr(running, "NOTES_EVERY_S", 0)
    worker.stopping.set()
    try:
        running.work_on(claimed)
    finally:
        worker.stopping.clear()

    job.refresh_from_db()
    assert (job.state, job.tries) == (State.WAITING, 0)


def test_what_breaks_is_told(job, monkeypatch):
    monkeypatch.setattr(running, "typeset", lambda *given: 1 / 0)

    running.work_on(running.claim_next(worker="w"))

    job.refresh_from_db()
    assert (job.state, "division" in job.trouble) == (State.FAILED, True)


def test_old_files_are_forgotten_and_those_at_work_are_not(job, given, desk):
    running.work_on(running.claim_next(worker="w"))
    fresh = services.ask_print(given, by=desk)
    PrintJob.objects.filter(pk=job.pk).update(finished_at=timezone.now() - dt.timedelta(days=8))

    assert forget_print_jobs() == 1
    assert list(PrintJob.objects.all()) == [fresh]


def test_who_leaves_takes_their_jobs_along(job, desk):
    services.forget_jobs_of(member=desk)

    assert not PrintJob.objects.exists()


def test_nobody_fills_the_queue(lot, sheet, desk):
    codes = list(lot.packets.values_list("code", flat=True))

    def ask(number: int) -> None:
        given = services.prepared(
            kind="labels", keys=codes[number:], by=desk, on=ON, sheet=sheet
        )
        services.ask_print(given, by=desk)

    for number in range(services.MOST_WAITING):
        ask(number)
    with pytest.raises(Conflict):
        ask(services.MOST_WAITING)


def test_the_api_asks_waits_and_fetches(api, desk, lot, sheet):
    api.force_authenticate(desk)
    at_once = api.get("/api/paper/labels/", {"key": lot.number, "sheet": sheet.pk})
    asked = api.post(
        "/api/print-jobs/",
        {"kind": "labels", "keys": [lot.number], "sheet": sheet.pk},
        format="json",
    )
    where = f"/api/print-jobs/{asked.json()['id']}/"
    before = api.get(f"{where}file/")
    running.work_on(running.claim_next(worker="w"))

    assert (at_once.status_code, at_once.json()["code"]) == (409, "too_much_at_once")
    assert before.status_code == 404
    assert api.get(where).json()["state"] == "done"
    assert api.get(f"{where}file/").content.startswith(b"%PDF-")
    one = api.get("/api/paper/labels/", {"key": lot.packets.first().code, "sheet": sheet.pk})
    assert one["Content-Type"] == "application/pdf"
