"""What the database itself refuses to change of reports: see ``library.stock.guards``."""

from __future__ import annotations

from library.stock.guards import Guard

GUARDS = (
    Guard(
        "off_type_report_never_changes",
        "provenance_offtypereport",
        "What was reported is never changed; lift the report and write another.",
        columns=("lot_id", "seen_on", "what", "plants_seen", "plants_looked_at", "reported_at"),
        emptied="reported_by_id",
    ),
    Guard(
        "off_type_report_stays_lifted",
        "provenance_offtypereport",
        "A report that was lifted stays lifted; write another.",
        columns=("lifted_at", "lift_reason"),
        when='OLD."lifted_at" IS NOT NULL',
    ),
    Guard(
        "off_type_report_never_leaves",
        "provenance_offtypereport",
        "A report is never deleted; lift it.",
    ),
    Guard(
        "off_type_clearance_never_changes",
        "provenance_offtypeclearance",
        "A clearance is never changed; report again.",
        columns=("report_id", "lot_id", "reason", "cleared_at"),
        emptied="cleared_by_id",
    ),
    Guard(
        "off_type_clearance_never_leaves",
        "provenance_offtypeclearance",
        "A clearance is never deleted; report again.",
    ),
)
