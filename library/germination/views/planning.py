"""Planning tests, one or many at once, and laying them out."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from accounts.access import CoordinatorPage
from library.germination import forms, services
from library.germination.few_seeds import suits_few_seeds
from library.germination.method import conditions_for, suggested_size
from library.germination.models import BenchRules, GerminationTest
from library.germination.views.common import AboutALot, DoneToATest, WithDishes
from library.germination.words import (
    Cost,
    costs,
    few_seeds_sentences,
    size_asked,
    where_from,
)
from library.stock.models import Lot
from library.stock.service_pages import ServicePage

Kind = GerminationTest.Kind


class StartPage(AboutALot):
    """Plan a test for a day, or lay it out now; both from what is published."""

    template_name = "germination/start.html"
    heading = gettext_lazy("Plan a germination test")
    done = None

    @property
    def kind(self) -> str:
        few = self.request.GET.get("kind") == Kind.SEQUENTIAL
        return Kind.SEQUENTIAL if few else Kind.FIXED

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if self.request.htmx and "seeds_each" in request.GET:
            return self.render_cost()
        return super().get(request, *args, **kwargs)

    def render_cost(self) -> HttpResponse:
        """What the size that is being typed would cost."""
        asked = self.request.GET
        seeds = size_asked(asked.get("replicates"), asked["seeds_each"])
        return render(
            self.request, "germination/includes/cost.html", {"cost": self.cost(seeds)}
        )

    def cost(self, seeds: int) -> Cost | None:
        return costs(self.lot, seeds, rules=BenchRules.current()) if seeds else None

    def get_form_class(self):
        return forms.FewSeedsForm if self.kind == Kind.SEQUENTIAL else forms.StartForm

    def get_form(self, form_class=None):
        form = super().get_form(form_class)
        form.explain(where_from(self.lot))
        return form

    def get_initial(self) -> dict[str, Any]:
        published = conditions_for(self.lot)
        return {
            "replicates": self.size.replicates,
            "seeds_each": self.size.seeds_each,
            "substrate": published.substrate,
            "temperature_c": published.temperature_c,
            "directions": published.directions,
        }

    def where_next(self, result: GerminationTest) -> str:
        return reverse("test", args=[result.pk])

    def act(self, asked: dict[str, Any]) -> GerminationTest:
        lays_out = self.request.POST.get("how") != "plan"
        do = services.start_test if lays_out else services.plan_test
        test = do(lot=self.lot, kind=self.kind, by=self.request.user, **asked)
        messages.success(
            self.request,
            _("Started. Write the test's number on the dishes.") if lays_out else _("Planned."),
        )
        return test

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        rules = BenchRules.current()
        few = None
        if self.kind == Kind.SEQUENTIAL:
            few = services.cost_of_plan(self.lot, rules=rules)
        return super().get_context_data(
            kind=self.kind,
            kinds=[(value, label, value == self.kind) for value, label in Kind.choices],
            cost=self.cost(self.size.seeds),
            few=few and few_seeds_sentences(few),
            suits_few=suits_few_seeds(self.lot, rules),
            **kwargs,
        )


class BeginPage(DoneToATest):
    """Lay a planned test out: its seed is drawn now."""

    form_class = forms.BeginForm
    heading = gettext_lazy("Lay out the planned test")
    lead = gettext_lazy("Its seed is drawn from the lot now.")
    submit = gettext_lazy("Draw the seed and start")
    done = gettext_lazy("Started. Write the test's number on the dishes.")

    def act(self, asked: dict[str, Any]) -> GerminationTest:
        return services.begin_test(test=self.test, by=self.request.user, **asked)


class PlanManyPage(CoordinatorPage, ServicePage):
    """The lots that were ticked on the bench, planned together as suggested."""

    template_name = "germination/plan_many.html"
    form_class = forms.PlanManyForm
    heading = gettext_lazy("Plan these tests")
    submit = gettext_lazy("Plan them")
    done = None

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if not self.lots:
            messages.warning(request, _("Tick the lots that are to be tested first."))
            return HttpResponseRedirect(self.back_to())
        return super().get(request, *args, **kwargs)

    @cached_property
    def lots(self) -> list[Lot]:
        sent = self.request.POST if self.request.method == "POST" else self.request.GET
        # PostgreSQL refuses a text that holds a NUL, even to look for it.
        numbers = [number for number in sent.getlist("lot") if number.isprintable()]
        lots = Lot.objects.with_variety().filter(number__in=numbers)
        return list(lots.order_by("number"))

    def act(self, asked: dict[str, Any]) -> list[GerminationTest]:
        planned = services.plan_tests(lots=self.lots, by=self.request.user, **asked)
        n = len(planned)
        words = ngettext("%(n)s test is planned.", "%(n)s tests are planned.", n)
        messages.success(self.request, words % {"n": n})
        return planned

    def back_to(self) -> str:
        return reverse("bench")

    def crumbs(self) -> list[tuple[str, str]]:
        return [(self.back_to(), _("The bench"))]

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        rows = [(lot, suggested_size(lot)) for lot in self.lots]
        seeds = sum(size.seeds for _lot, size in rows)
        return super().get_context_data(rows=rows, seeds=seeds, **kwargs)


class RecordPage(WithDishes, AboutALot):
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

    def dishes(self, data: Any = None) -> forms.DishFormSet:
        each = {"seeds": self.size.seeds_each}
        return forms.dishes(asks_seeds=True, initial=[each] * self.how_many, data=data)

    def where_next(self, result: GerminationTest) -> str:
        return reverse("test", args=[result.pk])

    def act(self, asked: dict[str, Any]) -> GerminationTest:
        counts = self.counted.counts()
        return services.record_test(
            lot=self.lot, replicates=counts, by=self.request.user, **asked
        )

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        choices = range(1, services.MOST_REPLICATES + 1)
        return super().get_context_data(choices=choices, how_many=self.how_many, **kwargs)
