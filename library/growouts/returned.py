"""What came of promises: the returns of their packets, each with the lot that it made."""

from __future__ import annotations

from collections.abc import Iterable

from library.growouts.models import Commitment
from library.lending.models import Return, ReturnedLoan


def returns_of(commitments: Iterable[Commitment]) -> dict[int, list[Return]]:
    """By the key of each promise the returns that made a lot, the earliest first; one query.

    Seed may come back in parts, and several packets in one return.
    """
    keys = [commitment.pk for commitment in commitments]
    links = ReturnedLoan.objects.filter(
        loan__commitment_link__commitment__in=keys, seed_return__lot__isnull=False
    )
    rows = links.select_related("seed_return__lot", "loan__commitment_link").order_by(
        "seed_return__lot_id"
    )
    found: dict[int, dict[int, Return]] = {key: {} for key in keys}
    for link in rows:
        of_promise = found[link.loan.commitment_link.commitment_id]
        of_promise.setdefault(link.seed_return_id, link.seed_return)
    return {key: list(returns.values()) for key, returns in found.items()}
