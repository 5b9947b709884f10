"""What accounts adds to other pages, and whether a waiting letter is still wanted."""

from __future__ import annotations

import datetime as dt

from django.template.loader import render_to_string
from django.utils import timezone

from accounts import mail, panels, services
from accounts.models import Invitation
from library.hooks import panels_for
from library.outbox.models import Message
from library.outbox.sources import current_address


def asked_by(rf, person):
    request = rf.get("/")
    request.user = person
    return request


def test_the_bench_shows_coordinators_who_waits(rf, coordinator, applicant):
    context = panels.members_to_approve(asked_by(rf, coordinator))

    assert context == {"waiting": [applicant]}
    assert "fledgling" in render_to_string("accounts/panel_to_approve.html", context)


def test_the_bench_shows_nothing_when_nobody_waits_or_to_the_desk(
    rf, coordinator, desk, make_member
):
    assert panels.members_to_approve(asked_by(rf, coordinator)) is None
    make_member("fledgling", membership="applied")

    assert panels.members_to_approve(asked_by(rf, desk)) is None


def test_the_panels_are_registered_where_they_belong():
    shown = {p: [panel.context for panel in panels_for(p)] for p in ("home", "bench")}

    assert panels.waiting_for_approval in shown["home"]
    assert panels.members_to_approve in shown["bench"]


def wanted_by(letter: Message) -> str | None:
    return current_address(letter.source, otherwise="nobody answered")


def test_a_letter_about_an_application_is_dropped_once_it_is_answered(applicant, coordinator):
    services.announce_application(member=applicant)
    letter = Message.objects.get()
    before = wanted_by(letter)

    services.approve(member=applicant, by=coordinator)

    assert (before, wanted_by(letter)) == (coordinator.email, None)


def test_a_letter_to_a_member_follows_them_to_their_new_address(applicant, coordinator):
    services.approve(member=applicant, by=coordinator)
    letter = Message.objects.get()
    applicant.email = "new@example.org"
    applicant.save()

    assert wanted_by(letter) == "new@example.org"


def test_an_invitation_is_dropped_once_it_is_no_use(coordinator):
    services.invite(email="lark@example.org", by=coordinator)
    letter = Message.objects.get()
    before = wanted_by(letter)
    Invitation.objects.update(expires_at=timezone.now() - dt.timedelta(days=1))

    assert (before, wanted_by(letter)) == ("lark@example.org", None)


def test_letters_name_no_one_elses_address(applicant, coordinator):
    services.announce_application(member=applicant)
    services.decline(member=applicant, by=coordinator, note="We are full.")

    for letter in Message.objects.all():
        others = {applicant.email, coordinator.email} - {letter.to}
        assert [e for e in others if e in letter.text + letter.html + letter.subject] == []


def test_a_hostile_library_name_stays_text_in_letters(applicant, coordinator):
    services.save_community(by=None, name="<b>Tarn & Hollow</b>")
    services.approve(member=applicant, by=coordinator)

    letter = Message.objects.get()
    assert letter.subject == "Welcome to <b>Tarn & Hollow</b>"
    assert "&lt;b&gt;Tarn &amp; Hollow&lt;/b&gt;" in letter.html
    assert mail.address_of("home").endswith("/")
