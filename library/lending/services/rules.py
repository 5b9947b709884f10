"""What the library lends, and to whom how much."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Member
from library.errors import NotAllowed
from library.germination.advice import MOST_LOSSES_PERCENT
from library.lending.models import LendingRules
from library.lending.services.checks import coordinates, fits, whole

RANGES = {
    "max_open_loans": (1, 500),
    "max_packets_of_variety": (1, 100),
    "grace_days": (0, 365),
    "reserve_sowings": (0, 10),
    "expected_losses_percent": (0, MOST_LOSSES_PERCENT),
}


@transaction.atomic
def change_lending_rules(*, by: Member, **wanted: Any) -> LendingRules:
    """A coordinator changes limits, grace, reserve, losses and the rules of exchange.

    What is not named stays. Loans that are out keep the due date that they were given.
    """
    if not coordinates(by):
        raise NotAllowed(_("Only a coordinator changes the lending rules."))
    LendingRules.current()
    rules = LendingRules.objects.select_for_update().get(pk=1)
    for name, value in wanted.items():
        if name == "exchange_notice":
            value = fits(value, field=name, most=8000)
        else:
            least, most = RANGES[name]
            whole(value, field=name, least=least, most=most)
        setattr(rules, name, value)
    rules.save(update_fields=list(wanted))
    return rules
