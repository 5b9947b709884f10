"""Members of the old card box: invited, or noted without an account. Nobody gets a password."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from accounts.models import Invitation, Member
from accounts.services import invite, withdraw_invitation
from accounts.services.checks import tidy_email
from library.cardbox import values
from library.cardbox.kinds.base import NEW, Fate, Field, KindOfCard, Option, Verdict, key_of
from library.cardbox.models import CardRow, Kind, NotedPerson
from library.catalogue.names import fold
from library.errors import Conflict, Refused

SAME = "same"


class Members(KindOfCard):
    kind = Kind.MEMBERS
    title = gettext_lazy("Members")
    fields = (
        Field("name", gettext_lazy("name"),
              "name;member;full name;display name;who;person;grower", required=True),
        Field("email", gettext_lazy("email"), "email;e mail;mail;email address;address",
              look=lambda text: "@" in text and "." in text.rpartition("@")[2], tells=True),
        Field("note", gettext_lazy("note"), "note;notes;remarks;comment"),
    )  # fmt: skip
    options = (
        Option(
            "invite",
            gettext_lazy("Send an invitation to everybody with an email address"),
            gettext_lazy(
                "They become members by answering it, under a name and a password of their "
                "own. Else people are noted without an account."
            ),
        ),
    )
    example = (
        ("Name", "Email", "Note"),
        ("Bracken Lowe", "bracken@example.org", "Grows beans."),
        ("Sorrel Pike", "", "No email; ask at the table."),
    )
    forgets = True

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.emails = set(Member.objects.values_list("email", flat=True))
        self.invited = set(Invitation.objects.open().values_list("email", flat=True))
        self.called: dict[str, str] = {
            fold(name): name
            for name in Member.objects.active().values_list("display_name", flat=True)
        }
        self.noted = set(NotedPerson.objects.values_list("folded", "email"))

    def judge(self, said: dict[str, str]) -> Verdict:
        name = self.read(
            said, "name", lambda text: values.fitting(" ".join(text.split()), most=120)
        )
        email = self.read(said, "email", tidy_email) or ""
        note = self.read(said, "note", lambda text: values.fitting(text, most=2000)) or ""
        key = key_of(self.kind, email or fold(name))
        if known := self._known(name, email):
            return Verdict(Fate.HERE, known, "email" if email else "name", key=key)
        facts = {"name": name, "email": email, "note": note}
        if email and self.option("invite"):
            return Verdict(Fate.NEW, _("An invitation is sent."), values=facts, key=key)
        return Verdict(Fate.NEW, _("Noted without an account."), values=facts, key=key)

    def _known(self, name: str, email: str) -> str:
        if email in self.emails:
            return _("Somebody here has this email address already.")
        if email in self.invited:
            return _("This address is invited already.")
        if (fold(name)[:200], email) in self.noted:
            return _("Noted already.")
        if not email and (member := self.called.get(fold(name))):
            answer = self.decided("name", name)
            if not answer:
                sentence = _("There is a member called “%(name)s”. Is it the same person?") % {
                    "name": member
                }
                options = [(SAME, _("The same person")), (NEW, _("Somebody else"))]
                raise self.ask("name", name, sentence, options)
            if answer == SAME:
                return _("The member “%(name)s”.") % {"name": member}
        return ""

    # Writing ------------------------------------------------------------------------------
    def write(self, row: CardRow, *, by: Member) -> dict[str, Any]:
        facts, made = row.values, {}
        if facts["email"] and self.option("invite"):
            made["invitation"] = invite(email=facts["email"], by=by).pk
        person, new = NotedPerson.objects.get_or_create(
            folded=fold(facts["name"])[:200],
            email=facts["email"],
            defaults={"name": facts["name"], "note": facts["note"], "noted_by": by},
        )
        if not new and not made:
            raise Conflict(_("Noted already, a moment ago."))
        if new:
            made["noted"] = person.pk
        return made

    def rests_on(self, row: CardRow) -> str:
        invitation = Invitation.objects.filter(pk=row.made.get("invitation")).first()
        if invitation is not None and invitation.accepted_at is not None:
            return _("the invitation was accepted")
        return ""

    def undo(self, row: CardRow, *, by: Member, on: dt.date) -> None:
        if built := self.rests_on(row):
            raise Refused(built)
        invitation = Invitation.objects.open().filter(pk=row.made.get("invitation")).first()
        if invitation is not None:
            withdraw_invitation(invitation=invitation, by=by)
        NotedPerson.objects.filter(pk=row.made.get("noted")).delete()
