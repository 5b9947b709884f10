"""What the database itself refuses to change of tests that are over.

See ``library.stock.guards``.
"""

from __future__ import annotations

from library.stock.guards import Guard

GUARDS = (
    Guard(
        "test_stays_of_its_lot",
        "germination_germinationtest",
        "A test stays a test of its lot, and of its kind.",
        columns=("lot_id", "kind"),
    ),
    Guard(
        "test_stays_over",
        "germination_germinationtest",
        "A test that is over is not run again; it can only be set aside.",
        columns=("state",),
        when="""(OLD."state" = 'closed' AND NEW."state" <> 'void') OR OLD."state" = 'void'""",
    ),
    Guard(
        "dish_stays_what_it_is",
        "germination_replicate",
        "What a dish is (test, number, seeds) is never changed.",
        columns=("test_id", "number", "seeds"),
    ),
    Guard(
        "dish_never_leaves", "germination_replicate", "A dish is never deleted; void its test."
    ),
    # A finished dish has its day, and each amendment is younger than the one before.
    Guard(
        "finished_dish_changes_by_amendment",
        "germination_replicate",
        "The counts of a finished dish change only together with an amendment.",
        columns=("normal", "abnormal", "hard", "fresh", "dead"),
        when="""OLD."counted_on" IS NOT NULL
            AND COALESCE(NEW."amendment_id", 0) <= COALESCE(OLD."amendment_id", 0)""",
    ),
    Guard(
        "test_amendment_never_changes",
        "germination_testamendment",
        "An amendment is never changed; amend again.",
        columns=("test_id", "field", "old_value", "new_value", "reason", "amended_at"),
        emptied="amended_by_id",
    ),
    Guard(
        "test_amendment_never_leaves",
        "germination_testamendment",
        "An amendment is never deleted.",
    ),
)
