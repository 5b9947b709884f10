"""A test as everybody reads it."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from django.views.generic import DetailView

from accounts.access import CataloguePage
from accounts.roles import SERVE_DESK
from library.germination.models import GerminationTest
from library.germination.progress import counted_by_day, counts_ahead, in_words, open_dishes
from library.germination.results import result_of
from library.germination.services import decision_so_far
from library.germination.words import behind, few_seeds_said
from library.stock.models import Lot

State = GerminationTest.State


class TestPage(CataloguePage, DetailView):
    """One test: what it said, how sure that is, and what was corrected."""

    __test__ = False  # not a test class, whatever its name says to pytest
    template_name = "germination/test.html"
    context_object_name = "test"

    def get_queryset(self):
        lots = Lot.objects.visible_to(self.request.user)
        tests = GerminationTest.objects.filter(lot__in=lots).with_results()
        return tests.select_related("recorded_by").prefetch_related(
            "replicates__day_counts", "amendments__amended_by"
        )

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        test = self.object
        so_far = decision_so_far(test)
        return super().get_context_data(
            lot=test.lot,
            result=result_of(test),
            so_far=so_far,
            said=few_seeds_said(so_far),
            lying=open_dishes(test) if test.state == State.RUNNING else [],
            ahead=[count.sentence(timezone.localdate()) for count in counts_ahead(test)],
            today=timezone.localdate(),
            behind=behind(test),
            days=counted_by_day(test),
            amendments=[in_words(a) for a in test.amendments.all()],
            desk=self.request.user.has_perm(SERVE_DESK),
            **kwargs,
        )
