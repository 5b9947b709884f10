"""Tests, and what crosses the desk."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from library.exchange.whole.table import (
    Table,
    day,
    key,
    link,
    member,
    number,
    text,
    time,
    whole,
    words,
    yes_no,
)
from library.germination.models import GerminationTest, Replicate
from library.lending.models import Deposit, Loan, Return, ReturnedLoan
from library.provenance.models import OffTypeReport

TESTS = (
    Table(
        "germination_tests",
        _("Germination tests"),
        _("Counted tests of a sample."),
        GerminationTest.objects.all,
        (
            key(),
            link("lot", "lots", _("the lot")),
            text("state", _("planned, running, closed or void")),
            text("kind", _("with dishes, or with few seeds in groups")),
            day("started_on", _("the day it was laid out")),
            day("closed_on", _("the day it ended")),
            text("substrate", _("on what")),
            text("temperature_c", _("degrees Celsius, as in “20” or “20<=>30”")),
            words("note", _("what was noted")),
            text("verdict", _("of a test with few seeds")),
            member("recorded_by", _("by whom")),
        ),
        mine=("recorded_by",),
    ),
    Table(
        "dishes",
        _("Dishes of tests"),
        _("The replicates, as they were counted."),
        Replicate.objects.all,
        (
            key(),
            link("test", "germination_tests", _("the test")),
            whole("number", _("which dish")),
            whole("seeds", _("seeds laid out")),
            whole("normal", _("normal seedlings")),
            whole("abnormal", _("abnormal seedlings")),
            whole("hard", _("hard seeds")),
            whole("fresh", _("fresh seeds that did not germinate")),
            whole("dead", _("dead seeds")),
            day("counted_on", _("the day of the last count")),
        ),
        mine=("test__recorded_by",),
    ),
)

DESK = (
    Table(
        "deposits",
        _("Deposits"),
        _("Seed that was brought in from outside."),
        Deposit.objects.all,
        (
            key(),
            member("depositor", _("who brought it")),
            text("state", _("proposed, received, declined …")),
            link("variety", "varieties", _("the variety, if it had a card")),
            words("new_variety_name", _("the name it came under")),
            whole("seeds", _("seeds, as told")),
            number("grams", _("grams, as told")),
            whole("harvest_year", _("year of harvest")),
            link("lot", "lots", _("the lot that it became")),
            time("proposed_at", _("when it was proposed")),
        ),
        mine=("depositor",),
    ),
    Table(
        "loans",
        _("Loans"),
        _("Packets handed to members for sowing."),
        Loan.objects.all,
        (
            key(),
            link("packet", "packets", _("the packet")),
            member("borrower", _("who borrowed it")),
            day("lent_on", _("the day it was lent")),
            day("due_on", _("when the next generation's seed should be ripe")),
            day("closed_on", _("the day it ended; empty while it is open")),
            text("outcome", _("seed returned, crop failed, brought back unopened …")),
            words("outcome_note", _("what was said of it")),
        ),
        mine=("borrower",),
    ),
    Table(
        "returns",
        _("Returns"),
        _("Seed brought back against loans."),
        Return.objects.all,
        (
            key(),
            member("member", _("who brought it")),
            text("state", _("announced, received …")),
            whole("seeds", _("seeds, as told")),
            number("grams", _("grams, as told")),
            whole("harvest_year", _("year of harvest")),
            time("announced_at", _("when it was announced")),
            time("received_at", _("when it came in")),
            link("lot", "lots", _("the lot that it became")),
        ),
        mine=("member",),
    ),
    Table(
        "returned_loans",
        _("Loans of a return"),
        _("Which loans a return answers: this makes the chain's link."),
        ReturnedLoan.objects.all,
        (
            key(),
            link("seed_return", "returns", _("the return")),
            link("loan", "loans", _("the loan")),
            yes_no("closes", _("whether the loan ended with it")),
        ),
        mine=("loan__borrower",),
    ),
    Table(
        "off_type_reports",
        _("Off-types reported"),
        _("Lots of which somebody saw plants that are not true."),
        OffTypeReport.objects.all,
        (
            key(),
            link("lot", "lots", _("the lot")),
            day("seen_on", _("when")),
            words("what", _("what was seen")),
            whole("plants_seen", _("plants that were off")),
            whole("plants_looked_at", _("of how many")),
            member("reported_by", _("by whom")),
            time("lifted_at", _("when the report was lifted; empty while it stands")),
        ),
        mine=("reported_by",),
    ),
)
