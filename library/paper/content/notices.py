"""The notice for the wall: how the library lends, what to bring, and what can hurt."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from accounts.models import Community
from library.catalogue.models import Caution
from library.lending.models import LendingRules
from library.paper.qr import address_of, square_code


def wall_notice(*, paper: str, on: dt.date) -> dict[str, Any]:
    """One sheet. What must hang where seed is shared: W. Va. Code 19-16-5a, rule 9."""
    community, rules = Community.current(), LendingRules.current()
    return {
        "title": _("How %(name)s works") % {"name": community.name},
        "library": community.name,
        "place": community.place,
        "printed": _("As of %(day)s") % {"day": date_format(on)},
        "paper": paper,
        "lend_word": _("Borrow, sow, give back"),
        "lend": _lending(rules),
        "own_word": _("Our own rules"),
        "own": rules.exchange_notice.strip(),
        "bring_word": _("When you bring seed"),
        "bring": _bringing(),
        "care_word": _("Take care"),
        "care": [
            row.local_text for row in Caution.objects.about_everything().order_by("topic")
        ],
        "law": _(
            "Seed shared here may not meet the standards of germination or of purity that hold "
            "for seed that is sold. Varieties that are protected or patented are neither taken "
            "nor given out without the owner's permission. Local rules and licensed practice "
            "come first."
        ),
        "qr": square_code("/"),
        "qr_alt": _("Square code of this library's pages"),
        "address": address_of("/"),
    }


def _lending(rules: LendingRules) -> list[str]:
    packets = ngettext(
        "A member may have %(n)s packet out at a time",
        "A member may have %(n)s packets out at a time",
        rules.max_open_loans,
    ) % {"n": rules.max_open_loans}
    of_one = ngettext(
        "and %(n)s of one variety.", "and %(n)s of one variety.", rules.max_packets_of_variety
    ) % {"n": rules.max_packets_of_variety}
    grace = ngettext(
        "Seed is due back %(n)s day after it should be ripe in your garden.",
        "Seed is due back %(n)s days after it should be ripe in your garden.",
        rules.grace_days,
    ) % {"n": rules.grace_days}
    return [
        f"{packets}, {of_one}",
        grace,
        _("If your crop fails, tell the desk. It happens to all of us, and is no fault."),
        _("A packet that you do not open can come back as it is."),
        _("Some seed of each variety stays here: from it the variety would be regrown."),
    ]


def _bringing() -> list[str]:
    return [
        _("The slip or the packet it came from: its code makes the link."),
        _("Dry, clean seed of healthy plants, without chaff, insects or weed seed."),
        _("How many plants gave it, and what kept them from crossing."),
        _("The harvest year, and what you liked or did not."),
        _("Whether it was treated, and with what."),
        _("Nothing of an F1 hybrid or a self-sown squash under the old name."),
    ]
