"""What the database itself refuses to change: triggers, the same on both databases.

A constraint looks at one row; these look at what becomes of it. They stand behind the services
for the day someone writes to a table directly. Deleting: PostgreSQL's TRUNCATE passes them by,
which is how the test runner empties tables there; on SQLite it deletes row by row, so this
app's ``flush`` command lifts the guards while it empties the database, and puts them back.
A migration that remakes one of these tables on SQLite drops its triggers and must call
``install`` again; ``verify_stock`` says so when that was forgotten.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Guard:
    """Refuses a statement on ``table``: an UPDATE that changes ``columns``, or any DELETE.

    ``emptied`` names a column that may only become NULL (who recorded it, once they left).
    ``when`` narrows it: a change is refused only where this SQL over OLD and NEW is true.
    """

    name: str
    table: str
    says: str
    columns: tuple[str, ...] = ()
    emptied: str = ""
    when: str = ""

    @property
    def event(self) -> str:
        return "UPDATE" if self.columns else "DELETE"

    def condition(self, differs: str) -> str:
        """The row-level test: one of the columns would come out different, and must not."""
        parts = [f'OLD."{column}" {differs} NEW."{column}"' for column in self.columns]
        if self.emptied:
            becomes = f'NEW."{self.emptied}" IS NOT NULL'
            parts.append(f'({becomes} AND OLD."{self.emptied}" {differs} NEW."{self.emptied}")')
        changes = " OR ".join(parts)
        return f"({changes}) AND ({self.when})" if self.when else changes


GUARDS = (
    Guard(
        "movement_never_changes",
        "stock_movement",
        "A movement is never changed; add a contrary movement.",
        columns=(
            "lot_id",
            "packet_id",
            "kind",
            "loose_change",
            "packed_change",
            "on",
            "reason",
            "mends_id",
            "recorded_at",
        ),
        emptied="recorded_by_id",
    ),
    Guard(
        "movement_never_leaves",
        "stock_movement",
        "A movement is never deleted; add a contrary movement.",
    ),
    Guard(
        "lot_parent_never_changes",
        "stock_lotparent",
        "A link of the chain is never changed.",
        columns=("child_id", "parent_id", "share"),
    ),
    Guard(
        "lot_parent_never_leaves", "stock_lotparent", "A link of the chain is never deleted."
    ),
    Guard(
        "amendment_never_changes",
        "stock_lotamendment",
        "An amendment is never changed; amend again.",
        columns=("lot_id", "field", "old_value", "new_value", "reason", "amended_at"),
        emptied="amended_by_id",
    ),
    Guard("amendment_never_leaves", "stock_lotamendment", "An amendment is never deleted."),
    Guard(
        "lot_stays_what_it_is",
        "stock_lot",
        "What a lot is (number, variety, origin, day received) is never changed.",
        columns=("number", "identifier", "variety_id", "origin", "received_on", "counted_as"),
    ),
    Guard(
        "packet_stays_what_it_is",
        "stock_packet",
        "What a packet is (lot, code, seeds) is never changed.",
        columns=("lot_id", "code", "seeds"),
    ),
)


_known = list(GUARDS)


def register(guards: Iterable[Guard]) -> None:
    """Let an upper app's guards be looked after like ours; registering them twice is once."""
    _known.extend(guard for guard in guards if guard not in _known)


def known() -> list[Guard]:
    """Every app's guards."""
    return list(_known)


def install(connection: Any, guards: Iterable[Guard] = GUARDS) -> None:
    """Put the guards up; those that are up already are replaced."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(_POSTGRES_FUNCTION)
        for guard in guards:
            _drop(cursor, connection.vendor, guard)
            cursor.execute(_trigger(connection.vendor, guard))


def lift(connection: Any, guards: Iterable[Guard] = GUARDS) -> None:
    """Take the guards down."""
    with connection.cursor() as cursor:
        for guard in guards:
            _drop(cursor, connection.vendor, guard)


def missing(connection: Any) -> list[Guard]:
    """The guards that are not up in this database."""
    catalogue = {
        "postgresql": "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal",
        "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger'",
    }
    with connection.cursor() as cursor:
        cursor.execute(catalogue[connection.vendor])
        up = {name for (name,) in cursor.fetchall()}
    return [guard for guard in known() if guard.name not in up]


# The errors have the class of a check constraint, so both databases raise IntegrityError.
_POSTGRES_FUNCTION = """
CREATE OR REPLACE FUNCTION stock_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '%', TG_ARGV[0] USING ERRCODE = 'check_violation';
END
$$
"""


def _drop(cursor: Any, vendor: str, guard: Guard) -> None:
    table = f' ON "{guard.table}"' if vendor == "postgresql" else ""
    cursor.execute(f'DROP TRIGGER IF EXISTS "{guard.name}"{table}')


def _trigger(vendor: str, guard: Guard) -> str:
    head = f'CREATE TRIGGER "{guard.name}" BEFORE {guard.event} ON "{guard.table}" FOR EACH ROW'
    if vendor == "postgresql":
        test = guard.condition("IS DISTINCT FROM")
        when = f" WHEN ({test})" if test else ""
        return f"{head}{when} EXECUTE FUNCTION stock_refuse('{guard.says}')"
    test = guard.condition("IS NOT")
    when = f" WHEN {test}" if test else ""
    return f"{head}{when} BEGIN SELECT RAISE(ABORT, '{guard.says}'); END"
