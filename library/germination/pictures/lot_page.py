"""The page of a lot's viability over time, with all that went into it."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from django.views.generic import TemplateView

from accounts.access import CataloguePage
from accounts.roles import SERVE_DESK
from library.germination.estimates import LotViability, estimate_of
from library.germination.models import BenchRules, TestDate
from library.germination.pictures.reading import curve_of
from library.germination.reasons import told
from library.germination.results import result_of
from library.stock.models import Lot
from library.stock.places import PlaceTree


class ViabilityPage(CataloguePage, TemplateView):
    """One lot's viability over time, large, with all that went into it."""

    template_name = "germination/pictures/viability.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        lots = Lot.objects.visible_to(self.request.user).with_variety()
        lots = lots.select_related("variety__crop__species__viability_constants")
        lot = get_object_or_404(lots, number=kwargs["number"])
        rules, tree = BenchRules.current(), PlaceTree()
        desk = self.request.user.has_perm(SERVE_DESK)
        viability = estimate_of(lot, rules=rules, tree=tree)
        tests = lot.germination_tests.closed().with_results()
        results = [(test, result_of(test, rules=rules)) for test in tests]
        date = TestDate.objects.filter(lot=lot).first()
        picture = curve_of(lot, viability, results=results, date=date, tree=tree, for_desk=desk)
        return super().get_context_data(
            lot=lot,
            rules=rules,
            viability=viability,
            picture=picture,
            results=results,
            date=date,
            reasons=[told(reason) for reason in viability.assumptions],
            constants=constants_of(viability),
            desk=desk,
            **kwargs,
        )


def constants_of(viability: LotViability) -> dict[str, Any] | None:
    """The constants of the viability equation as used, and how far they may be off."""
    if viability.estimate is None:
        return None
    longevity = viability.estimate.longevity
    values = longevity.constants
    return {
        "rows": [("KE", values.ke), ("CW", values.cw), ("CH", values.ch), ("CQ", values.cq)],
        "source": values.source,
        "spread": longevity.spread,
        "known": longevity.known.value,
    }
