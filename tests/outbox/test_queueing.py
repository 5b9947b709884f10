"""Writing mail with its cause."""

from __future__ import annotations

import pytest
from django.core.mail import EmailMessage, EmailMultiAlternatives, get_connection
from django.db import transaction

from library.outbox import worker
from library.outbox.backend import OutboxBackend
from library.outbox.models import Message
from library.outbox.tasks import deliver_mail

pytestmark = pytest.mark.django_db


def test_the_same_key_writes_one_row(write):
    first = write("loan:1")
    second = write("loan:1", subject="Another")

    assert first == second
    assert Message.objects.get().subject == "Due"


def test_a_subject_is_one_line_of_at_most_250_characters(write):
    message = write(subject="Due\r\nBcc: everyone@example.org " + "x" * 300)

    assert "\n" not in message.subject
    assert message.subject.startswith("Due Bcc: everyone@example.org x")
    assert len(message.subject) == 250


def test_a_rolled_back_cause_leaves_no_mail(transactional_db, write):
    with transaction.atomic():
        write()
        transaction.set_rollback(True)

    assert Message.objects.count() == 0


def test_the_runner_is_woken_after_the_commit(
    write, settings, django_capture_on_commit_callbacks
):
    settings.REDIS_URL = ""
    worker.woken.clear()

    with django_capture_on_commit_callbacks(execute=True):
        write()
        woken_before = worker.woken.is_set()

    assert (woken_before, worker.woken.is_set()) == (False, True)


def test_with_redis_the_broker_gets_the_id(
    write, settings, monkeypatch, django_capture_on_commit_callbacks
):
    settings.REDIS_URL = "redis://example"
    sent = []
    monkeypatch.setattr(deliver_mail, "apply_async", lambda args, **kw: sent.append(args))

    with django_capture_on_commit_callbacks(execute=True):
        message = write()

    assert sent == [[message.pk]]


def test_a_broker_that_is_down_breaks_nothing(
    write, settings, monkeypatch, django_capture_on_commit_callbacks
):
    settings.REDIS_URL = "redis://example"

    def down(args, **kwargs):
        raise ConnectionError

    monkeypatch.setattr(deliver_mail, "apply_async", down)

    with django_capture_on_commit_callbacks(execute=True):
        write()

    assert Message.objects.waiting().count() == 1


def test_the_backend_writes_one_row_for_each_recipient():
    mail = EmailMessage(
        "Hello", "Text", "Library <a@example.org>", ["b@example.org"],
        cc=["c@example.org"], bcc=["d@example.org", "b@example.org"],
        reply_to=["desk@example.org"], headers={"List-Id": "news"},
    )  # fmt: skip

    sent = OutboxBackend().send_messages([mail])

    rows = Message.objects.order_by("to")
    assert sent == 1
    assert [row.to for row in rows] == ["b@example.org", "c@example.org", "d@example.org"]
    assert {row.sender for row in rows} == {"Library <a@example.org>"}
    assert rows[0].headers == {"List-Id": "news", "Reply-To": "desk@example.org"}


def test_the_backend_keeps_html_beside_text_and_alone():
    both = EmailMultiAlternatives("Hello", "Text", to=["b@example.org"])
    both.attach_alternative("<p>Text</p>", "text/html")
    alone = EmailMessage("Hello", "<p>Only</p>", to=["c@example.org"])
    alone.content_subtype = "html"

    OutboxBackend().send_messages([both, alone])

    rows = Message.objects.order_by("to").values_list("text", "html")
    assert list(rows) == [("Text", "<p>Text</p>"), ("", "<p>Only</p>")]


def test_the_backend_refuses_an_attachment_with_a_sentence():
    mail = EmailMessage("Hello", "Text", to=["b@example.org"])
    mail.attach("list.csv", "a,b", "text/csv")

    with pytest.raises(ValueError, match="send a link, not a file"):
        OutboxBackend().send_messages([mail])


def test_djangos_mail_goes_through_the_outbox(settings):
    connection = get_connection("library.outbox.backend.OutboxBackend")

    EmailMessage("Hello", "Text", to=["b@example.org"], connection=connection).send()

    assert Message.objects.get().to == "b@example.org"
