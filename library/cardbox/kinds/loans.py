"""Past loans: packets that left on paper, open or ended."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from accounts.models import Invitation, Member
from library.cardbox import values
from library.cardbox.kinds.base import (
    UNDONE,
    Fate,
    Field,
    KindOfCard,
    Option,
    Verdict,
    always,
    key_of,
    wrong,
)
from library.cardbox.kinds.finding import crop_names, one_of, variety_names
from library.cardbox.models import CardRow, Kind, NotedPerson
from library.cardbox.naming import Names
from library.catalogue.names import fold
from library.lending.models import Loan
from library.lending.services import record_past_loan, rests_on_past_loan, undo_past_loan
from library.stock.models import Lot
from library.stock.services.checks import in_words

OUT = "out"
OUTCOMES = {
    "out": OUT, "open": OUT, "still out": OUT, "lent": OUT, "due": OUT, "overdue": OUT,
    "failed": Loan.Outcome.CROP_FAILED, "crop failed": Loan.Outcome.CROP_FAILED,
    "crop failure": Loan.Outcome.CROP_FAILED, "lost": Loan.Outcome.CROP_FAILED,
    "nothing": Loan.Outcome.NOTHING_TO_RETURN, "none": Loan.Outcome.NOTHING_TO_RETURN,
    "nothing to return": Loan.Outcome.NOTHING_TO_RETURN,
    "nothing returned": Loan.Outcome.NOTHING_TO_RETURN,
    "unopened": Loan.Outcome.TAKEN_BACK, "returned unopened": Loan.Outcome.TAKEN_BACK,
    "packet returned": Loan.Outcome.TAKEN_BACK, "taken back": Loan.Outcome.TAKEN_BACK,
    "packet brought back unopened": Loan.Outcome.TAKEN_BACK,
}  # fmt: skip
RETURNED = {"returned", "seed returned", "back", "came back", "yes"}


class Loans(KindOfCard):
    kind = Kind.LOANS
    title = gettext_lazy("Past loans")
    fields = (
        Field("borrower", gettext_lazy("borrower"),
              "borrower;member;name;lent to;who;to;borrowed by;grower", required=True),
        Field("lot", gettext_lazy("lot"),
              "lot;lot number;number;no;card;card number;accession;reference;jar"),
        Field("variety", gettext_lazy("variety"), "variety;seed;what;variety name;cultivar"),
        Field("crop", gettext_lazy("crop"), "crop;kind;vegetable;type", tells=True),
        Field("harvest_year", gettext_lazy("harvest year of the lot"),
              "harvest year;year;harvest"),
        Field("seeds", gettext_lazy("seeds lent"),
              "seeds;quantity;amount;seeds lent;how many;count", required=True,
              kind_of_value="number", is_whole=always),
        Field("lent_on", gettext_lazy("lent on"),
              "lent on;lent;date;date lent;borrowed;borrowed on;out;taken", required=True,
              kind_of_value="day"),
        Field("due_on", gettext_lazy("due on"), "due on;due;due date;back by",
              kind_of_value="day"),
        Field("outcome", gettext_lazy("what came of it"),
              "outcome;what came of it;result;status;state;ending",
              look=lambda text: fold(text) in OUTCOMES or fold(text) in RETURNED),
        Field("ended_on", gettext_lazy("ended on"),
              "ended on;closed;closed on;returned on;date returned;back;in",
              kind_of_value="day"),
        Field("note", gettext_lazy("note"), "note;notes;remarks;comment"),
    )  # fmt: skip
    options = (
        Option(
            "counted_after",
            gettext_lazy("The lots were counted after these packets had left"),
            gettext_lazy(
                "Each packet's seed is then added to its lot's count before it is lent, so "
                "that the count stays as it is. Else the packets are taken from the count."
            ),
        ),
    )
    example = (
        ("Borrower", "Lot", "Variety", "Crop", "Seeds", "Lent on", "Due on", "What came of it",
         "Ended on", "Note"),
        ("Bracken Lowe", "12", "Weir Lantern", "tomato", "20", "2025-03-14", "2026-01-31",
         "still out", "", ""),
        ("Sorrel Pike", "", "Fold Gate Brown", "drying bean", "30", "2025-11-20", "",
         "crop failed", "2026-08-30", "Voles."),
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.crops, self.varieties = crop_names(), variety_names()
        self._of_crop: dict[int, Names] = {}
        active = list(Member.objects.active().values_list("pk", "display_name", "email"))
        self.people = Names((fold(name), pk, name) for pk, name, _email in active)
        self._also_as_noted({email: (pk, name) for pk, name, email in active})
        self.waiting = set(NotedPerson.objects.values_list("folded", flat=True))
        self._taken: dict[int, int] = defaultdict(int)

    def _also_as_noted(self, by_email: dict[str, tuple[int, str]]) -> None:
        """Who was noted or invited under one name and chose another goes by both."""
        accepted = Invitation.objects.filter(accepted_by__isnull=False)
        came = {
            email: (pk, name)
            for email, pk, name in accepted.values_list(
                "email", "accepted_by", "accepted_by__display_name"
            )
        }
        for folded, email in NotedPerson.objects.exclude(email="").values_list(
            "folded", "email"
        ):
            if known := by_email.get(email) or came.get(email):
                self.people.also(folded, *known)

    def judge(self, said: dict[str, str]) -> Verdict:
        borrower = self._borrower(said["borrower"])
        lot = self._lot(said)
        lent_on = self.read(said, "lent_on", self._day)
        seeds = self.read(
            said, "seeds", lambda text: values.whole(text, writing=self.writing, least=1)
        )
        self._check_lot(lot, seeds, lent_on)
        outcome, ended_on = self._end(said, lent_on)
        facts = {
            "borrower": borrower,
            "lot": lot.pk,
            "seeds": seeds,
            "lent_on": lent_on.isoformat(),
            "due_on": self._due(said, lent_on),
            "outcome": outcome,
            "ended_on": ended_on,
            "note": self.read(said, "note", lambda text: values.fitting(text, most=2000)) or "",
            "counted_after": self.option("counted_after"),
        }
        key = key_of(self.kind, borrower, lot.pk, lent_on, seeds, outcome, ended_on)
        words = _("From lot %(lot)s.") % {"lot": lot.number}
        return Verdict(Fate.NEW, words, "lot", values=facts, key=key)

    def _day(self, text: str) -> dt.date:
        return values.day(text, writing=self.writing, on=self.on)

    def _borrower(self, text: str) -> int:
        named = {"text": values.cut(text)}
        waits = fold(text) in self.waiting
        unknown = (
            _("“%(text)s” is noted but has no account; loans can be written once they have "
              "answered an invitation.")
            if waits
            else _("No member is called “%(text)s”; bring in the members first, or correct the "
                   "name.")
        ) % named  # fmt: skip
        found = one_of(self, self.people, "borrower", text, unknown=unknown)
        assert found is not None  # noqa: S101 (nobody is new here)
        return found

    def _lot(self, said: dict[str, str]) -> Lot:
        number = said.get("lot", "")
        if number:
            return self._lot_numbered(number)
        if not said.get("variety"):
            raise wrong("lot", _("Give the lot's number, or the variety."))
        return self._lot_of_variety(said)

    def _lot_numbered(self, number: str) -> Lot:
        lots = Lot.objects.kept_here()
        if lot := lots.filter(number=number.upper()).first():
            return lot
        rows = CardRow.objects.still_there().filter(
            reference=fold(number), card_import__kind=Kind.LOTS
        )
        keys = {row.made["lot"] for row in rows[:10]}
        if len(keys) == 1:
            return lots.get(pk=keys.pop())
        if keys:
            return self._which("lot", number, list(lots.filter(pk__in=keys)))
        raise wrong(
            "lot",
            _("There is no lot “%(number)s” here, nor one that came with that number from a "
              "card box; bring in the lots first.") % {"number": values.cut(number)},
        )  # fmt: skip

    def _lot_of_variety(self, said: dict[str, str]) -> Lot:
        names, text = self.varieties, said["variety"]
        if crop_text := said.get("crop", ""):
            unknown = _("“%(text)s” is no crop of the catalogue.") % {
                "text": values.cut(crop_text)
            }
            crop = one_of(self, self.crops, "crop", crop_text, unknown=unknown) or 0
            names = self._of_crop.setdefault(crop, variety_names(crop=crop))
        unknown = _("There is no card for “%(text)s”; correct the name.") % {
            "text": values.cut(text)
        }
        variety = one_of(self, names, "variety", text, unknown=unknown)
        lots = Lot.objects.kept_here().filter(variety=variety, withheld_reason="")
        year = self.read(said, "harvest_year", lambda text: values.year(text, on=self.on))
        if year is not None:
            lots = lots.filter(harvest_year=year)
        found = list(lots.order_by("-received_on", "-pk")[:9])
        if len(found) == 1:
            return found[0]
        if not found:
            raise wrong("variety", _("There is no lot of it here; bring in the lots first."))
        return self._which("variety", " ".join([text, str(year or "")]).strip(), found)

    def _which(self, field: str, text: str, lots: list[Lot]) -> Lot:
        """The lot that a person chose of several, or a question."""
        key = f"lot:{text}"
        if answer := self.decided(field, key):
            return next((lot for lot in lots if str(lot.pk) == answer), lots[0])
        options = [
            (
                str(lot.pk),
                _("Lot %(lot)s, harvest %(year)s, received %(day)s")
                % {
                    "lot": lot.number,
                    "year": lot.harvest_year or _("unknown"),
                    "day": in_words(lot.received_on),
                },
            )
            for lot in lots[:8]
        ]
        sentence = _("There are several lots of “%(text)s”; which was it?") % {
            "text": values.cut(text)
        }
        raise self.ask(field, key, sentence, options)

    def _check_lot(self, lot: Lot, seeds: int, lent_on: dt.date) -> None:
        if lent_on < lot.received_on:
            raise wrong(
                "lent_on",
                _("Lot %(lot)s was received on %(day)s, after this loan; correct one of the "
                  "days.") % {"lot": lot.number, "day": in_words(lot.received_on)},
            )  # fmt: skip
        if self.option("counted_after"):
            return
        if self._taken[lot.pk] + seeds > lot.loose:
            raise wrong(
                "seeds",
                _("Lot %(lot)s has %(loose)s seeds in its jar, and the rows above take "
                  "%(taken)s of them. If it was counted after these packets had left, say so "
                  "with the columns.")
                % {"lot": lot.number, "loose": lot.loose, "taken": self._taken[lot.pk]},
            )  # fmt: skip
        self._taken[lot.pk] += seeds

    def _due(self, said: dict[str, str], lent_on: dt.date) -> str | None:
        due = self.read(
            said, "due_on", lambda text: values.any_day(text, writing=self.writing, on=self.on)
        )
        if due is not None and due < lent_on:
            raise wrong("due_on", _("It would be due before it was lent."))
        return None if due is None else due.isoformat()

    def _end(self, said: dict[str, str], lent_on: dt.date) -> tuple[str, str | None]:
        ended = self.read(said, "ended_on", self._day)
        if ended is not None and ended < lent_on:
            raise wrong("ended_on", _("It would have ended before it was lent."))
        outcome = self._outcome(said.get("outcome", ""), ended is not None)
        if outcome == OUT:
            if ended is not None:
                raise wrong(
                    "outcome", _("A loan that is still out has no day on which it ended.")
                )
            return "", None
        if ended is None:
            raise wrong("ended_on", _("Give the day on which the loan ended."))
        return outcome, ended.isoformat()

    def _outcome(self, text: str, ended: bool) -> str:
        folded = fold(text) if text else ""
        if not folded:
            if ended:
                raise wrong("outcome", _("Say what came of it: %(known)s.") % _known())
            return OUT
        if folded in OUTCOMES:
            return str(OUTCOMES[folded])
        if folded in RETURNED:
            return self._returned(text)
        raise wrong(
            "outcome",
            _("“%(text)s” is no such ending; say %(known)s.")
            % {"text": values.cut(text), **_known()},
        )

    def _returned(self, text: str) -> str:
        """Seed that came back is a lot; a card of loans alone does not tell how much it was."""
        if answer := self.decided("outcome", text):
            return answer
        sentence = _(
            "“%(text)s”: seed that came back is a lot of its own, which a list of loans does "
            "not make. How are these loans to be closed?"
        ) % {"text": values.cut(text)}
        options = [
            (str(Loan.Outcome.NOTHING_TO_RETURN), _("Closed, with no lot made of them")),
            (str(Loan.Outcome.TAKEN_BACK), _("The packet itself came back unopened")),
        ]
        raise self.ask("outcome", text, sentence, options)

    # Writing ------------------------------------------------------------------------------
    def write(self, row: CardRow, *, by: Member) -> dict[str, Any]:
        facts = dict(row.values)
        for name in ("lent_on", "due_on", "ended_on"):
            facts[name] = facts[name] and dt.date.fromisoformat(facts[name])
        lot = Lot.objects.with_variety().get(pk=facts.pop("lot"))
        borrower = Member.objects.get(pk=facts.pop("borrower"))
        loan = record_past_loan(lot=lot, borrower=borrower, by=by, **facts)
        return {"loan": loan.pk}

    def rests_on(self, row: CardRow) -> str:
        return rests_on_past_loan(
            Loan.objects.select_related("packet").get(pk=row.made["loan"])
        )

    def undo(self, row: CardRow, *, by: Member, on: dt.date) -> None:
        loan = Loan.objects.get(pk=row.made["loan"])
        undo_past_loan(loan=loan, on=on, by=by, reason=str(UNDONE))


def _known() -> dict[str, str]:
    return {"known": _("still out, crop failed, nothing to return, or unopened")}
