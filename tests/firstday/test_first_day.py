"""The first day: plain steps with defaults, left, resumed, passed over; and the welcome."""

from __future__ import annotations

import smtplib

import pytest

from accounts.models import Community, Invitation
from library.errors import NotAllowed, Refused
from library.firstday import services
from library.firstday.models import SetupStep, WelcomeRead
from library.lending.models import LendingRules
from library.stock.models import StoragePlace

pytestmark = pytest.mark.django_db
Step, State = SetupStep.Step, SetupStep.State


def saved(client, step: str, **changes):
    """Send a step's form as it opens, with some fields changed."""
    form = client.get(f"/first-day/{step}/").context["form"]
    fields = {name: form[name].value() for name in form.fields}
    sent = {k: v for k, v in (fields | changes).items() if v not in (None, False)}
    return client.post(f"/first-day/{step}/", sent)


def test_every_step_is_good_as_it_opens_but_for_the_invited_address(as_administrator):
    assert "5 steps of 5 are left" in as_administrator.get("/").content.decode()

    asked = [saved(as_administrator, step) for step in ("community", "rules", "places")]
    asked.append(saved(as_administrator, "coordinator", email="owl@example.org"))

    assert [answer.status_code for answer in asked] == [302] * 4
    assert [answer.url for answer in asked] == [
        "/first-day/rules/",
        "/first-day/places/",
        "/first-day/coordinator/",
        "/first-day/mail/",
    ]
    assert StoragePlace.objects.get().name == "Seed cupboard"
    assert Invitation.objects.get().role == "coordinator"
    assert "1 step of 5 is left" in as_administrator.get("/").content.decode()


def test_the_steps_write_by_the_settings_own_services(as_administrator):
    saved(as_administrator, "community", name="Tarn Hollow Seed Library", place="Tarn Hollow")
    saved(as_administrator, "rules", max_open_loans=7)
    wrong = saved(as_administrator, "community", last_spring_frost="13-40")

    community = Community.current()
    assert (community.name, community.place) == ("Tarn Hollow Seed Library", "Tarn Hollow")
    assert LendingRules.current().max_open_loans == 7
    assert wrong.status_code == 400
    assert "13-40" in wrong.content.decode()


def test_a_step_passed_over_is_offered_no_more_and_what_was_done_stays_done(
    as_administrator, administrator
):
    saved(as_administrator, "rules")
    answer = as_administrator.post("/first-day/rules/later/")
    assert services.standing()[Step.RULES] == State.DONE
    assert answer.url == "/first-day/places/"

    as_administrator.post("/first-day/rest/")

    assert services.standing() == {
        step: State.DONE if step == Step.RULES else State.SKIPPED for step in Step.values
    }
    assert services.next_step() is None
    assert "Set the library up</h2>" not in as_administrator.get("/").content.decode()
    assert as_administrator.get("/first-day/").status_code == 200
    assert as_administrator.post("/first-day/eat/later/").status_code == 404


def test_a_library_with_seed_is_not_asked_to_begin_but_to_finish(
    as_administrator, administrator, make_lot
):
    make_lot()
    assert not services.is_offered()

    services.note_step(step=Step.MAIL, state=State.SKIPPED, by=administrator)

    assert services.is_offered()


def test_nobody_but_an_administrator_takes_a_step(coordinator, administrator):
    with pytest.raises(NotAllowed):
        services.note_step(step=Step.MAIL, state=State.DONE, by=coordinator)
    with pytest.raises(Refused):
        services.note_step(step="eat", state=State.DONE, by=administrator)
    assert not SetupStep.objects.exists()


def test_a_mail_really_goes_and_the_servers_answer_is_told(
    as_administrator, administrator, mailbox
):
    mailbox.answers["DATA"] = "250 Kept as number 7"

    page = as_administrator.post("/first-day/mail/").content.decode()

    assert "250 Kept as number 7" in page
    assert [mail.to for mail in mailbox.received] == [[administrator.email]]
    assert services.standing()[Step.MAIL] == State.DONE


@pytest.mark.parametrize(
    ("where", "answer", "sentence"),
    [
        ("DATA", "554 No thank you", "did not take the mail"),
        ("swan@example.org", "550 No such box", "does not take mail to your address"),
    ],
)
def test_what_the_mail_server_refused_is_told_and_the_step_stays(
    as_administrator, mailbox, where, answer, sentence
):
    mailbox.answers[where] = answer

    page = as_administrator.post("/first-day/mail/").content.decode()

    assert sentence in page
    assert answer in page
    assert services.standing()[Step.MAIL] == ""


@pytest.mark.parametrize(
    ("error", "sentence"),
    [
        (smtplib.SMTPAuthenticationError(535, b"who are you"), "user or password"),
        (smtplib.SMTPSenderRefused(550, b"not you", "x"), "does not take mail from"),
    ],
)
def test_wrong_settings_are_told_apart(as_administrator, monkeypatch, error, sentence):
    def refuse(connection, mail):
        raise error

    monkeypatch.setattr("library.firstday.mailtest._send", refuse)

    page = as_administrator.post("/first-day/mail/").content.decode()

    assert sentence in page
    assert str(error.smtp_code) in page


def test_a_mail_server_that_is_not_there_is_named(as_administrator, settings, free_port):
    settings.OUTBOX_DELIVERY_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", free_port()

    page = as_administrator.post("/first-day/mail/").content.decode()

    assert f"127.0.0.1, port {settings.EMAIL_PORT}, cannot be reached" in page


def test_a_console_is_no_mail_server(as_administrator, settings):
    settings.OUTBOX_DELIVERY_BACKEND = "library.outbox.console.ConsoleMail"

    page = as_administrator.post("/first-day/mail/").content.decode()

    assert "No mail server is set" in page
    assert services.standing()[Step.MAIL] == ""


@pytest.mark.parametrize(
    ("who", "things"),
    [
        ("member", ["Borrow", "Give back", "Bring seed"]),
        ("desk", ["Serve the desk", "Serve a swap table", "Borrow"]),
        ("coordinator", ["Watch over the seed", "Plan grow-outs", "Serve the desk"]),
        ("administrator", ["Set the library up", "Watch over the seed", "Serve the desk"]),
    ],
)
def test_the_welcome_tells_three_things_by_role_until_it_is_put_away(
    client, request, who, things
):
    person = request.getfixturevalue(who)
    client.force_login(person)
    page = client.get("/")
    told = next(c["things"] for c in page.context if "things" in c)
    assert [str(thing.title) for thing in told] == things
    for thing in told:
        assert client.get(thing.address).status_code == 200

    for _ in range(2):
        assert client.post("/welcome/away/").url == "/"

    assert f"Welcome, {person.display_name}" not in client.get("/").content.decode()
    assert WelcomeRead.objects.get().member == person


def test_an_applicant_and_a_stranger_are_not_welcomed_yet(client, applicant):
    assert "Three things" not in client.get("/").content.decode()
    client.force_login(applicant)
    assert "Three things" not in client.get("/").content.decode()
