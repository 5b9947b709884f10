"""Seasons, promises and their steps."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from library.exchange.whole.table import (
    Table,
    day,
    key,
    link,
    member,
    text,
    time,
    whole,
    words,
)
from library.growouts.models import Commitment, CommitmentLoan, Elsewhere, Milestone, Season

GROW_OUTS = (
    Table(
        "seasons",
        _("Seasons"),
        _("Years in which varieties are renewed together."),
        Season.objects.all,
        (
            key(),
            whole("year", _("the year")),
            day("offers_until", _("until when growers offer")),
            words("note", _("what was noted")),
            day("closed_on", _("the day it was closed; empty while it is open")),
        ),
    ),
    Table(
        "commitments",
        _("Commitments"),
        _("One grower's promise to grow one variety in one season. The garden is not told."),
        Commitment.objects.all,
        (
            key(),
            link("season", "seasons", _("the season")),
            link("variety", "varieties", _("the variety")),
            member("grower", _("who promised")),
            text("state", _("offered, accepted, declined, lapsed, fulfilled, failed …")),
            text("technique", _("how it is kept apart")),
            whole("plants", _("plants to grow")),
            time("offered_at", _("when it was offered")),
            day("answered_on", _("when it was answered")),
            day("closed_on", _("when it ended")),
            text("cause", _("of a failure")),
            words("outcome_note", _("what was said of it")),
        ),
        mine=("grower",),
    ),
    Table(
        "promised_loans",
        _("Loans of commitments"),
        _("Packets that were handed out under a commitment."),
        CommitmentLoan.objects.all,
        (
            key(),
            link("commitment", "commitments", _("the commitment")),
            link("loan", "loans", _("the loan")),
        ),
        mine=("loan__borrower",),
    ),
    Table(
        "milestones",
        _("Steps of commitments"),
        _("What is to be done by when, and when it was."),
        Milestone.objects.all,
        (
            key(),
            link("commitment", "commitments", _("the commitment")),
            text(
                "kind", _("sown, stand count, rogued, isolated, harvested, cleaned, returned")
            ),
            day("due_on", _("expected by")),
            day("done_on", _("reported for")),
        ),
        mine=("commitment__grower",),
    ),
    Table(
        "found_elsewhere",
        _("Varieties that can be got elsewhere"),
        _("What members know of it."),
        Elsewhere.objects.all,
        (
            key(),
            link("variety", "varieties", _("the variety")),
            text("ease", _("easily, with trouble, doubtful, no")),
            day("known_on", _("when it was so")),
            words("note", _("where")),
            member("recorded_by", _("who said so")),
        ),
        mine=("recorded_by",),
    ),
)
