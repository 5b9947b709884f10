"""A report of off-types in one or two sentences, for whoever is about to sow."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from library.stock.services.checks import in_words

if TYPE_CHECKING:
    from library.provenance.models import OffTypeReport
    from library.provenance.warnings import CarriedWarning


def sentence(warning: CarriedWarning) -> str:
    """What was seen, in which lot, and how much of this one came from it."""
    report = warning.report
    words = {
        "lot": report.lot.number,
        "on": in_words(report.seen_on),
        "what": report.what,
        "count": count(report),
        "share": _share(warning.share),
    }
    if warning.own:
        return _("Off-types were seen in this lot on %(on)s%(count)s: %(what)s") % words
    return (
        _(
            "Off-types were seen on %(on)s in lot %(lot)s%(count)s, from which %(share)s of "
            "this lot comes: %(what)s"
        )
        % words
    )


def count(report: OffTypeReport) -> str:
    """How many plants, in brackets; empty where nobody counted."""
    seen, looked_at = report.plants_seen, report.plants_looked_at
    if seen is None and looked_at is None:
        return ""
    words = {"seen": _counted(seen), "of": _counted(looked_at)}
    if seen is None:
        return (
            ngettext(
                " (%(of)s plant was looked at)",
                " (%(of)s plants were looked at)",
                looked_at or 0,
            )
            % words
        )
    if looked_at is None:
        return ngettext(" (%(seen)s plant)", " (%(seen)s plants)", seen) % words
    return (
        ngettext(" (%(seen)s of %(of)s plant)", " (%(seen)s of %(of)s plants)", looked_at)
        % words
    )


def _counted(plants: int | None) -> str:
    return "" if plants is None else number_format(plants, force_grouping=True)


def _share(share: float) -> str:
    if share > 0.9999:
        return _("all")
    percent = 100 * share
    if percent < 1:
        return _("less than 1 %")
    return _("%(percent)s %%") % {"percent": round(percent)}
