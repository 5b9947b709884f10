"""What people do at the desk and from home: each function is one transaction."""

from __future__ import annotations

from library.lending.services.cards import NewCard, known_as
from library.lending.services.deposits import (
    Packing,
    decline_deposit,
    deposit_at_desk,
    propose_deposit,
    receive_deposit,
    withdraw_deposit,
)
from library.lending.services.guidance import (
    LoanGuidance,
    cautions_of,
    guidance_for,
    sowing_advice_for,
    what_a_packet_gives,
)
from library.lending.services.loans import (
    cancel_uncollected,
    change_garden,
    close_loan,
    extend_loan,
    hand_over,
    hand_over_together,
    lend_packet,
    take_back_unopened,
    why_not_lend,
)
from library.lending.services.past import (
    PAST_OUTCOMES,
    record_past_loan,
    rests_on_past_loan,
    undo_past_loan,
)
from library.lending.services.reserve import Reserve, reserve_of
from library.lending.services.returns import (
    announce_return,
    receive_return,
    return_at_desk,
    segregating_lines,
    withdraw_return,
)
from library.lending.services.rules import change_lending_rules
from library.lending.services.table import (
    done_by,
    lend_at_table,
    open_loan_of,
    take_back_at_table,
)

__all__ = [
    "PAST_OUTCOMES",
    "LoanGuidance",
    "NewCard",
    "Packing",
    "Reserve",
    "announce_return",
    "cancel_uncollected",
    "cautions_of",
    "change_garden",
    "change_lending_rules",
    "close_loan",
    "decline_deposit",
    "deposit_at_desk",
    "done_by",
    "extend_loan",
    "guidance_for",
    "hand_over",
    "hand_over_together",
    "known_as",
    "lend_at_table",
    "lend_packet",
    "open_loan_of",
    "propose_deposit",
    "receive_deposit",
    "receive_return",
    "record_past_loan",
    "reserve_of",
    "rests_on_past_loan",
    "return_at_desk",
    "segregating_lines",
    "sowing_advice_for",
    "take_back_at_table",
    "take_back_unopened",
    "undo_past_loan",
    "what_a_packet_gives",
    "why_not_lend",
    "withdraw_deposit",
    "withdraw_return",
]
