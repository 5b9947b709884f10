"""The floors that lending is measured against: SQL without Django, for the same loans.

``by_hand`` is what somebody would write who wanted to be fast: the questions that the checks
need, only their columns, the same locks and the same five writes, as prepared statements.
``replay`` sends the very statements that the service sent for each loan, also prepared.
Neither decides anything: what the service is slower by is what the checks cost in Python.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from psycopg.types.json import Jsonb

LENT, DUE = dt.date(2026, 2, 1), dt.date(2026, 10, 26)
NOT_THERE = "The packet was not on the shelf."
Statement = tuple[str, tuple | None]

READS = (
    """SELECT is_active, membership, display_name FROM accounts_member
       WHERE id = %(member)s FOR NO KEY UPDATE""",
    """SELECT id, last_spring_frost, first_autumn_frost, never_freezes
       FROM accounts_garden WHERE member_id = %(member)s AND is_default""",
    """SELECT v.id, v.name, v.breeding_status, v.min_population, v.days_to_maturity,
              c.life_cycle, c.species_id, s.pollination
       FROM stock_packet p JOIN stock_lot l ON l.id = p.lot_id
       JOIN catalogue_variety v ON v.id = l.variety_id
       JOIN catalogue_crop c ON c.id = v.crop_id
       JOIN catalogue_species s ON s.id = c.species_id
       WHERE p.id = %(packet)s FOR NO KEY UPDATE OF v""",
    """SELECT p.state, p.seeds, p.lot_id, l.number, l.received_on, l.withheld_reason,
              l.awaits_first_test
       FROM stock_packet p JOIN stock_lot l ON l.id = p.lot_id WHERE p.id = %(packet)s""",
    """SELECT max_open_loans, max_packets_of_variety, grace_days, reserve_sowings
       FROM lending_lendingrules WHERE id = 1""",
    """SELECT count(*), count(*) FILTER (WHERE l.variety_id = %(variety)s)
       FROM lending_loan o JOIN stock_packet p ON p.id = o.packet_id
       JOIN stock_lot l ON l.id = p.lot_id
       WHERE o.borrower_id = %(member)s AND o.closed_on IS NULL""",
    """SELECT quantity, number, source, how FROM catalogue_speciesfigure
       WHERE species_id = %(species)s""",
    """SELECT l.id, l.number, l.loose, l.packed, e.median, e."on", e.evidence
       FROM stock_lot l LEFT JOIN germination_lotestimate e ON e.lot_id = l.id
       WHERE l.variety_id = %(variety)s AND l.withheld_reason = ''
         AND (l.loose > 0 OR l.packed > 0)""",
)
TAKE_PACKET = """UPDATE stock_packet SET state = 'lent'
    WHERE id = %(packet)s AND state = 'on_shelf'"""
TAKE_SEED = """UPDATE stock_lot SET packed = packed - %(seeds)s
    WHERE id = %(lot)s AND packed >= %(seeds)s"""
WRITE_MOVEMENT = """INSERT INTO stock_movement (lot_id, packet_id, kind, loose_change,
        packed_change, "on", reason, recorded_by_id, recorded_at)
    VALUES (%(lot)s, %(packet)s, 'lent', 0, -%(seeds)s, %(on)s, '', %(member)s, now())"""
WRITE_LOAN = """INSERT INTO lending_loan (packet_id, borrower_id, garden_id, lent_on,
        lent_by_id, due_on, due_rule, due_inputs, outcome, outcome_note, override_reason)
    VALUES (%(packet)s, %(member)s, %(garden)s, %(on)s, %(member)s, %(due)s, 'due_annual',
        %(inputs)s, '', '', '') RETURNING id"""
WRITE_EVENT = """INSERT INTO lending_loanevent (loan_id, what, "on", by_id, now_due_on, why,
        recorded_at)
    VALUES (%(loan)s, 'lent', %(on)s, %(member)s, %(due)s, '', now())"""


INPUTS = {
    "lent_on": "2026-02-01",
    "seed_ripe_on": "2026-08-27",
    "grace_days": 60,
    "due_on": "2026-10-26",
    "days_assumed": False,
    "sown_on": "2026-05-05",
    "days_needed": 114,
    "source": "common practice, no source",
}


def by_hand(connection: Any, *, packet: int, member: int) -> None:
    """One loan: every question that a check needs, then the five writes."""
    facts = {"packet": packet, "member": member, "on": LENT, "due": DUE}
    facts["inputs"] = Jsonb(INPUTS)

    def ask(statement: str) -> Any:
        return connection.execute(statement, facts, prepare=True)

    borrower, garden, variety, packet, *others = READS
    ask(borrower).fetchone()
    facts["garden"] = ask(garden).fetchone()[0]
    row = ask(variety).fetchone()
    facts["variety"], facts["species"] = row[0], row[6]
    _, facts["seeds"], facts["lot"], *_ = ask(packet).fetchone()
    for question in others:
        ask(question).fetchall()
    if ask(TAKE_PACKET).rowcount != 1 or ask(TAKE_SEED).rowcount != 1:
        raise LookupError(NOT_THERE)
    ask(WRITE_MOVEMENT)
    (facts["loan"],) = ask(WRITE_LOAN).fetchone()
    ask(WRITE_EVENT)


def replay(connection: Any, statements: list[Statement]) -> None:
    """One loan: the statements that the service sent for it, and nothing between them."""
    loan = None
    for sql, given in statements:
        params = (loan, *given[1:]) if sql.startswith(INTO + '"lending_loanevent"') else given
        answer = connection.execute(sql, params, prepare=bool(params))
        if sql.startswith("SELECT"):
            answer.fetchall()
        elif sql.startswith(INTO + '"lending_loan" '):
            (loan,) = answer.fetchone()
        elif sql.startswith("UPDATE") and answer.rowcount != 1:
            raise LookupError(NOT_THERE)


INTO = "INSERT INTO "
