"""What making the demo leaves behind: people who can sign in, and no mail."""

from __future__ import annotations

import pytest
from django.contrib.auth import authenticate

from accounts.models import Member
from library.demo.services import fill
from library.errors import Refused
from library.outbox.models import Message
from tests.demo.conftest import TODAY


def test_it_is_not_made_where_somebody_lives(demo):
    with pytest.raises(Refused, match="members or seed in this database already"):
        fill(today=TODAY)


def test_the_printed_people_can_sign_in_and_nobody_else(demo):
    can = [authenticate(None, email=person.email, password=person.password) for person in demo]

    assert [str(member) for member in can] == ["Sorrel", "Tansy", "Yarrow", "Hollin"]
    assert [member.role for member in can] == ["member", "desk", "coordinator", "administrator"]
    others = Member.objects.exclude(pk__in=[member.pk for member in can])
    assert [other for other in others if other.has_usable_password()] == []


def test_no_mail_of_the_demo_is_waiting_to_go(demo):
    assert Message.objects.exists()
    assert Message.objects.waiting().count() == 0


def test_nobody_but_who_can_sign_in_is_reminded_by_mail(demo):
    reminded = Member.objects.filter(wants_reminders=True, membership="approved")

    assert {member.email for member in reminded} == {person.email for person in demo}
