"""The bench's pages: what is due, starting, counting and reading tests."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.generic import DetailView, TemplateView

from accounts.access import CataloguePage, CoordinatorPage, DeskPage
from accounts.roles import SERVE_DESK
from library.germination import forms, services
from library.germination.dates import DISAGREE
from library.germination.method import method_of, suggested_size, usual_temperature
from library.germination.models import BenchRules, GerminationTest, TestDate
from library.germination.results import result_of
from library.stock.models import Lot
from library.stock.service_pages import ServicePage

LOOKS_AHEAD = dt.timedelta(days=90)
MOST_DUE = 200


class BenchPage(CoordinatorPage, TemplateView):
    """What is to be tested, what is being tested, and what has to be tested again."""

    template_name = "germination/bench.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        today = timezone.localdate()
        waiting = TestDate.objects.being_tested(False).with_lot()
        due = waiting.due(today + LOOKS_AHEAD).exclude(rule=DISAGREE)
        again = waiting.with_seed().filter(rule=DISAGREE)
        rows = [_due_row(date, today) for date in due.order_by("due_on", "pk")[:MOST_DUE]]
        return super().get_context_data(
            today=today,
            due=rows,
            cost=sum(row["size"].seeds for row in rows),
            again=[_due_row(date, today) for date in again.order_by("due_on", "pk")],
            running=GerminationTest.objects.running().with_lot().order_by("started_on", "pk"),
            rules=BenchRules.current(),
            **kwargs,
        )


def _due_row(date: TestDate, today: dt.date) -> dict[str, Any]:
    return {
        "date": date,
        "lot": date.lot,
        "size": suggested_size(date.lot),
        "overdue": date.due_on < today,
    }


class TestPage(CataloguePage, DetailView):
    """One test with its result and how sure it is."""

    __test__ = False  # not a test class, whatever its name says to pytest
    template_name = "germination/test.html"
    context_object_name = "test"

    def get_queryset(self):
        lots = Lot.objects.visible_to(self.request.user)
        tests = GerminationTest.objects.filter(lot__in=lots).with_results()
        return tests.select_related("recorded_by")

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(
            lot=self.object.lot,
            result=result_of(self.object),
            figures=method_of(self.object.lot),
            desk=self.request.user.has_perm(SERVE_DESK),
            **kwargs,
        )


class _OnALot(DeskPage, ServicePage):
    """A page about testing one lot."""

    @cached_property
    def lot(self) -> Lot:
        lots = Lot.objects.with_variety().prefetch_related("variety__crop__species__figures")
        return get_object_or_404(lots, number=self.kwargs["number"])

    @cached_property
    def size(self):
        return suggested_size(self.lot)

    def back_to(self) -> str:
        return self.lot.get_absolute_url()

    def where_next(self, result: GerminationTest) -> str:
        return reverse("test", args=[result.pk])

    def crumbs(self) -> list[tuple[str, str]]:
        return [
            (self.lot.variety.get_absolute_url(), self.lot.variety.name),
            (self.lot.get_absolute_url(), self.lot.number),
        ]

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(
            lot=self.lot, figures=method_of(self.lot), size=self.size, **kwargs
        )


class StartPage(_OnALot):
    """Lay a test out now; its counts follow."""

    template_name = "germination/start.html"
    form_class = forms.StartForm
    heading = gettext_lazy("Start a germination test")
    submit = gettext_lazy("Draw the seed and start")
    done = gettext_lazy("Started. Write the test's number on the dishes.")

    def get_initial(self) -> dict[str, Any]:
        return {
            "replicates": self.size.replicates,
            "seeds_each": self.size.seeds_each,
            "temperature_c": usual_temperature(self.lot),
        }

    def act(self, asked: dict[str, Any]) -> GerminationTest:
        return services.start_test(lot=self.lot, by=self.request.user, **asked)


class _WithDishes(ServicePage):
    """A form beside one row of counts for each dish."""

    template_name = "germination/dishes.html"

    def dishes(self, data: Any = None):
        raise NotImplementedError

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        form, self.counted = self.get_form(), self.dishes(request.POST)
        # Both are looked at, so that every mistake is said at once.
        if all([form.is_valid(), self.counted.is_valid()]):
            return self.form_valid(form)
        return self.form_invalid(form)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        shown = getattr(self, "counted", None)
        return super().get_context_data(
            dishes=self.dishes() if shown is None else shown, **kwargs
        )


class RecordPage(_WithDishes, _OnALot):
    """Write a whole test down at once."""

    form_class = forms.RecordForm
    heading = gettext_lazy("Record a germination test")
    lead = gettext_lazy("For a test that is over: its seed is drawn from the lot now.")
    submit = gettext_lazy("Record it")
    done = gettext_lazy("Recorded.")

    @property
    def how_many(self) -> int:
        asked = self.request.GET.get("dishes", "")
        number = int(asked) if asked.isdecimal() and len(asked) < 3 else self.size.replicates
        return min(max(number, 1), services.MOST_REPLICATES)

    def get_initial(self) -> dict[str, Any]:
        return {"temperature_c": usual_temperature(self.lot)}

    def dishes(self, data: Any = None):
        each = self.size.seeds_each
        return forms.dishes(how_many=self.how_many, asks_seeds=True, data=data, seeds=each)

    def act(self, asked: dict[str, Any]) -> GerminationTest:
        counts = self.counted.counts()
        return services.record_test(
            lot=self.lot, replicates=counts, by=self.request.user, **asked
        )

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        choices = range(1, services.MOST_REPLICATES + 1)
        return super().get_context_data(choices=choices, how_many=self.how_many, **kwargs)


class _OnATest(DeskPage, ServicePage):
    @cached_property
    def test(self) -> GerminationTest:
        tests = GerminationTest.objects.with_results()
        return get_object_or_404(tests, pk=self.kwargs["pk"])

    def back_to(self) -> str:
        return reverse("test", args=[self.kwargs["pk"]])

    def crumbs(self) -> list[tuple[str, str]]:
        lot = self.test.lot
        return [(lot.get_absolute_url(), lot.number), (self.back_to(), self.name)]

    @property
    def name(self) -> str:
        return _("Test %(number)s") % {"number": self.test.pk}


class CountPage(_WithDishes, _OnATest):
    """The counts of a running test; closes it."""

    form_class = forms.CloseForm
    heading = gettext_lazy("Count the dishes and close the test")
    submit = gettext_lazy("Close the test")
    done = gettext_lazy("Closed.")

    @cached_property
    def sown(self) -> list[int]:
        return [dish.seeds for dish in self.test.replicates.all()]

    def dishes(self, data: Any = None):
        return forms.dishes(how_many=len(self.sown), asks_seeds=False, data=data)

    def act(self, asked: dict[str, Any]) -> GerminationTest:
        counts = self.counted.counts()
        return services.close_test(
            test=self.test, replicates=counts, by=self.request.user, **asked
        )

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(
            lot=self.test.lot, figures=method_of(self.test.lot), sown=self.sown, **kwargs
        )


class VoidPage(_OnATest):
    form_class = forms.VoidForm
    heading = gettext_lazy("Set the test aside")
    lead = gettext_lazy("It no longer counts. The seed stays used.")
    submit = gettext_lazy("Set aside")
    danger = True

    def act(self, asked: dict[str, Any]) -> GerminationTest:
        return services.void_test(test=self.test, by=self.request.user, **asked)


class RulesPage(CoordinatorPage, ServicePage):
    form_class = forms.BenchRulesForm
    heading = gettext_lazy("Rules of the bench")
    done = gettext_lazy("Kept. Days that are set already stay as they are.")

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"instance": BenchRules.current()}

    def act(self, asked: dict[str, Any]) -> BenchRules:
        return services.save_bench_rules(by=self.request.user, **asked)

    def back_to(self) -> str:
        return reverse("bench")
