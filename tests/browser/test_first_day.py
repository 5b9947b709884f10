"""An empty library is set up by its first administrator, and a new member is welcomed."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from accounts.models import Community, Invitation
from library.firstday.models import WelcomeRead
from library.stock.models import StoragePlace
from tests.browser.conftest import WAYS
from tests.mailbox import free_port, mailbox  # noqa: F401 (fixtures)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_the_first_administrator_sets_the_library_up(
    walk,
    administrator,
    mailbox,  # noqa: F811
):
    swan = walk(administrator)
    swan.open("/", "Seed library")
    swan.reads("5 steps of 5 are left", "Welcome, swan")
    swan.follow("Begin", exact=True)
    swan.arrive("The first day")
    swan.follow("Go on", exact=True)
    swan.arrive("Name, place and season")
    swan.write("Name", "Tarn Hollow Seed Library")
    swan.push("Save and go on")
    swan.arrive("Rules and limits")
    swan.open("/", "Tarn Hollow Seed Library")  # left, and gone on with
    swan.reads("4 steps of 5 are left")
    swan.follow("Go on", exact=True)
    swan.arrive("The first day")
    swan.follow("Go on", exact=True)
    swan.arrive("Rules and limits")
    swan.push("Pass this step over")
    swan.arrive("Storage places")
    swan.push("Save and go on")
    swan.arrive("First coordinator")
    swan.write("Email", "owl@example.org")
    swan.push("Invite and go on")
    swan.arrive("Mail")
    swan.push("Send a test mail")
    swan.reads("The mail server took a mail to swan@example.org.", "250 OK")
    swan.follow("Go on", exact=True)
    swan.arrive("The first day")
    swan.reads("That is all.")
    swan.open("/", "Tarn Hollow Seed Library")

    expect(swan.page.get_by_role("heading", name="Set the library up", level=2)).to_have_count(
        0
    )
    assert Community.objects.get().name == "Tarn Hollow Seed Library"
    assert StoragePlace.objects.get().name == "Seed cupboard"
    assert Invitation.objects.get().email == "owl@example.org"


# The Tab key is looked at with a script: without any, by finger and mouse only.
@pytest.mark.parametrize(
    ("way", "scripts"),
    [
        (way, scripts)
        for way in WAYS
        for scripts in (True, False)
        if scripts or not way.by_keyboard
    ],
    ids=lambda value: getattr(value, "name", "scripts" if value else "no scripts"),
    indirect=["way"],
)
def test_a_new_member_reads_the_welcome_once(walk, member, valley, scripts, way):
    wren = walk(member, scripts=scripts)
    wren.open("/", "Tarn Hollow Seed Library")
    wren.reads("Welcome, wren", "Borrow", "Give back", "Bring seed")
    wren.push("I have read it")
    wren.arrive("Tarn Hollow Seed Library")

    expect(wren.page.get_by_role("heading", name="Welcome, wren")).to_have_count(0)
    assert WelcomeRead.objects.get().member == member
