"""Counting at the window sill: what waits there, and the dishes of one test."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.views.generic import TemplateView, View

from accounts.access import DeskPage
from library.errors import Refused
from library.germination import forms, services
from library.germination.models import GerminationTest, Replicate
from library.germination.progress import DishDays, counts_ahead, dish_days, open_dishes
from library.germination.views.common import AboutATest
from library.germination.words import few_seeds_said

State = GerminationTest.State
NEVER = dt.date.max


class SillPage(DeskPage, TemplateView):
    """The tests that run, those to be counted today first; and what is to be laid out."""

    template_name = "germination/sill.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        today = timezone.localdate()
        tests = GerminationTest.objects.with_lot()
        running = tests.running().prefetch_related("replicates__day_counts")
        rows = sorted((_row(test, today) for test in running), key=lambda row: row["by"])
        planned = tests.planned().filter(started_on__lte=today)
        return super().get_context_data(
            due=[row for row in rows if row["is_due"]],
            rest=[row for row in rows if not row["is_due"]],
            planned=planned.order_by("started_on", "pk"),
            **kwargs,
        )


def _row(test: GerminationTest, today: dt.date) -> dict[str, Any]:
    lying, ahead = open_dishes(test), counts_ahead(test)
    following = ahead[0] if ahead else None
    is_due = following.is_due(today) if following else not lying
    return {
        "test": test,
        "lying": lying,
        "next": following.sentence(today) if following else "",
        # A group that is finished asks for the next one today.
        "is_due": is_due,
        "by": (following.on if following else today if is_due else NEVER, test.pk),
        "counted_today": any(
            count.on == today
            for dish in test.replicates.all()
            for count in dish.day_counts.all()
        ),
    }


class _Counting(AboutATest):
    """The dishes of a running test on one day."""

    def tests(self):
        return super().tests().prefetch_related("replicates__day_counts")

    @property
    def day(self) -> dt.date:
        """The day that is asked for, else today."""
        sent = self.request.POST if self.request.method == "POST" else self.request.GET
        try:
            asked = parse_date(sent.get("on", ""))
        except ValueError:  # it has the shape of a day, but there is none such
            asked = None
        return asked or timezone.localdate()

    def back_to(self) -> str:
        address = reverse("test-count", args=[self.test.pk])
        is_today = self.day == timezone.localdate()
        return address if is_today else f"{address}?on={self.day:%Y-%m-%d}"

    def facts(self, wrong: Mapping[int, forms.DayForm] | None = None) -> dict[str, Any]:
        today = timezone.localdate()
        ahead = [(c.sentence(today), c.is_due(today)) for c in counts_ahead(self.test)]
        rows = [dish_days(dish, self.day) for dish in open_dishes(self.test)]
        wrong = wrong or {}
        so_far = services.decision_so_far(self.test)
        return {
            "test": self.test,
            "lot": self.test.lot,
            "day": self.day,
            "today": today,
            "ahead": ahead,
            "so_far": so_far,
            "said": few_seeds_said(so_far),
            "rows": [
                (row, wrong.get(row.dish.number) or _form_of(row, self.day)) for row in rows
            ],
        }


def _form_of(row: DishDays, day: dt.date) -> forms.DayForm:
    counted = {name: getattr(row.today, name) if row.today else 0 for name in forms.BY_DAY}
    return forms.DayForm(initial=counted | {"on": day}, auto_id=f"id_%s_{row.dish.number}")


class CountPage(_Counting, TemplateView):
    """One running test at the window sill: the counts of a day, saved as they change."""

    template_name = "germination/count.html"

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if self.test.state != State.RUNNING or not open_dishes(self.test):
            return HttpResponseRedirect(reverse("test", args=[self.test.pk]))
        return super().get(request, *args, **kwargs)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(**self.facts() | kwargs)


class DishPage(_Counting, View):
    """Takes what one dish's fields say of a day; answers htmx with what is saved."""

    http_method_names = ["post", "options"]

    def dispatch(self, request, *args, **kwargs):
        if request.htmx and not request.user.is_authenticated:
            # Led to the sign-in page, htmx would show that page inside the dish.
            return HttpResponse(status=401)
        return super().dispatch(request, *args, **kwargs)

    @cached_property
    def dish(self) -> Replicate:
        dishes = Replicate.objects.filter(test=self.test)
        return get_object_or_404(dishes, number=self.kwargs["number"])

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        form = forms.DayForm(request.POST, auto_id=f"id_%s_{self.dish.number}")
        status = 400
        if form.is_valid():
            try:
                self.save(form)
            except Refused as refusal:
                status = refusal.status
                field = refusal.field if refusal.field in form.fields else None
                form.add_error(field, str(refusal))
            else:
                return self.saved()
        return self.not_saved(form, status)

    def save(self, form: forms.DayForm) -> None:
        on, counts = form.cleaned_data["on"], form.counts()
        services.count_dish(dish=self.dish, on=on, by=self.request.user, **counts)

    def saved(self) -> HttpResponse:
        if not self.request.htmx:
            words = _("Dish %(number)s is saved.") % {"number": self.dish.number}
            messages.success(self.request, words)
            return HttpResponseRedirect(f"{self.back_to()}#dish-{self.dish.number}")
        test = self.tests().get(pk=self.test.pk)  # as it is now
        dish = next(d for d in test.replicates.all() if d.pk == self.dish.pk)
        so_far = services.decision_so_far(test)
        facts = {
            "row": dish_days(dish, self.day),
            "at": timezone.localtime(),
            "so_far": so_far,
            "said": few_seeds_said(so_far),
        }
        return render(self.request, "germination/includes/dish_saved.html", facts)

    def not_saved(self, form: forms.DayForm, status: int) -> HttpResponse:
        if self.request.htmx:
            facts = {"form": form, "number": self.dish.number}
            return render(
                self.request, "germination/includes/dish_not_saved.html", facts, status=status
            )
        facts = self.facts({self.dish.number: form}) | {"wrong": form}
        return render(self.request, "germination/count.html", facts, status=status)
