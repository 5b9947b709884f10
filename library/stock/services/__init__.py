"""What people do with the stock: each function is one transaction.

Rows are locked in one order everywhere, so that two people never wait for each other: packets
by key, then lots by key, then the number series. Balances on the caller's ``Lot`` objects are
not refreshed; the database holds the truth.
"""

from __future__ import annotations

from library.stock.services.amendments import amend_lot, release, withhold
from library.stock.services.elsewhere import record_lot_elsewhere
from library.stock.services.finding import UnknownCode, find_by_code
from library.stock.services.ledger import (
    correct_count,
    discard,
    discard_rest,
    draw_for_test,
    give_away,
    mend_movement,
    put_packet_back,
    take_packet_off_shelf,
)
from library.stock.services.packing import pack, unpack
from library.stock.services.receiving import bulk_lots, receive_lot, split_shares
from library.stock.services.stocktaking import close_stock_take, count_lot, start_stock_take
from library.stock.services.storage import (
    add_storage_place,
    edit_storage_place,
    hand_to_custodian,
    move_lot,
    move_packet,
    remove_storage_place,
)
from library.stock.services.weighing import Conversion, seeds_from_weight, weighing_of

__all__ = [
    "Conversion",
    "UnknownCode",
    "add_storage_place",
    "amend_lot",
    "bulk_lots",
    "close_stock_take",
    "correct_count",
    "count_lot",
    "discard",
    "discard_rest",
    "draw_for_test",
    "edit_storage_place",
    "find_by_code",
    "give_away",
    "hand_to_custodian",
    "mend_movement",
    "move_lot",
    "move_packet",
    "pack",
    "put_packet_back",
    "receive_lot",
    "record_lot_elsewhere",
    "release",
    "remove_storage_place",
    "seeds_from_weight",
    "split_shares",
    "start_stock_take",
    "take_packet_off_shelf",
    "unpack",
    "weighing_of",
    "withhold",
]
