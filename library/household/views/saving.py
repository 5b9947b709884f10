"""In my own garden: what to save seed of, what would cross, what to sow in which year."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.generic import TemplateView, View

from accounts.access import MemberPage
from library.catalogue.models import Variety
from library.catalogue.search import search
from library.errors import Refused
from library.growouts.views.seasons.base import Asked
from library.household.days import calendar_of
from library.household.forms.saving import (
    AddForm,
    ChoiceForm,
    FindForm,
    NewPlanForm,
    RoomFields,
    choice_initial,
    plan_initial,
)
from library.household.listed import Listed, cautions_of, listed_of, listed_one
from library.household.meeting import own_stands
from library.household.models import SavedVariety, SavingPlan
from library.household.rotating import rotation_of
from library.household.services import saving as services
from library.household.shown import (
    calendar_shown,
    listed_rows,
    rotation_shown,
    sown_from,
)
from library.household.views.taking_away import take_away
from library.household.words import pair_lines
from library.lending.views.base import VerbPage
from library.stock.models import Lot
from library.stock.service_pages import number_asked

ON_A_PAGE = 30
MOST_AT_HOME = 100
FIRST_YEAR, LAST_YEAR = 1900, 2200


class OwnGardenPage(MemberPage, Asked, TemplateView):
    template_name = "household/saving/home.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        plans = SavingPlan.objects.of(self.asker).with_details()
        plans = plans.order_by("-year", "garden__name", "pk")
        page = Paginator(plans, ON_A_PAGE).get_page(self.request.GET.get("page"))
        return super().get_context_data(
            page_obj=page,
            has_garden=self.asker.gardens.exists(),
            at_home=Lot.objects.kept_here().with_seed().filter(custodian=self.asker).count(),
            **kwargs,
        )


class PlanNewPage(MemberPage, Asked, VerbPage):
    template_name = "household/saving/plan_form.html"
    form_class = NewPlanForm

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"gardens": self.asker.gardens.all()}

    def get_initial(self) -> dict[str, Any]:
        gardens = list(self.asker.gardens.all())
        asked = number_asked(self.request.GET.get("garden", ""))
        named = next((garden for garden in gardens if garden.pk == asked), None)
        usual = next((garden for garden in gardens if garden.is_default), None)
        garden = named or usual
        return {
            "garden": garden,
            # After midsummer one plans for the next year.
            "year": self.today.year + (self.today.month > 8),
            "room_m2": garden.area_m2 if garden else None,
        }

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(has_garden=self.asker.gardens.exists(), **kwargs)

    def act(self, form: Any) -> SavingPlan:
        return services.make_plan(by=self.asker, **form.cleaned_data)


class OnePlan(MemberPage, Asked):
    """A page about one of the member's own lists; another's is not there."""

    @cached_property
    def plan(self) -> SavingPlan:
        return get_object_or_404(
            SavingPlan.objects.visible_to(self.asker).with_details(), pk=self.kwargs["pk"]
        )

    @cached_property
    def listed(self) -> list[Listed]:
        return listed_of(self.plan, on=self.today)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(plan=self.plan, **kwargs)  # type: ignore[misc]


class PlanPage(OnePlan, TemplateView):
    template_name = "household/saving/plan.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        pairs = pair_lines(own_stands(self.plan, self.listed), self.listed)
        return super().get_context_data(
            rows=listed_rows(self.listed),
            room_used=sum(one.room_m2 for one in self.listed),
            too_much=sum(one.room_m2 for one in self.listed) > float(self.plan.room_m2),
            crossing=[pair for pair in pairs if not pair.is_well],
            apart=[pair for pair in pairs if pair.is_well],
            cautions=cautions_of(self.listed),
            **kwargs,
        )


class PlanChangePage(OnePlan, VerbPage):
    template_name = "household/saving/plan_form.html"
    form_class = RoomFields
    done = gettext_lazy("Saved.")

    def get_initial(self) -> dict[str, Any]:
        return plan_initial(self.plan)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(has_garden=True, **kwargs)

    def act(self, form: Any) -> SavingPlan:
        return services.change_plan(plan=self.plan, by=self.asker, **form.cleaned_data)


class PlanRemove(OnePlan, View):
    http_method_names = ["post"]

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        take_away(
            request,
            self.plan,
            lambda: services.remove_plan(plan=self.plan, by=self.asker),
            _("The list is gone."),
        )
        return redirect("own-garden")


class AddPage(OnePlan, VerbPage):
    """Tick varieties: of one's own lots at home, and of the library by name."""

    template_name = "household/saving/add.html"
    form_class = AddForm

    @cached_property
    def find(self) -> FindForm:
        form = FindForm(self.request.GET or None)
        form.is_valid()
        return form

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        there = set(self.plan.choices.values_list("variety", flat=True))
        asked = getattr(self.find, "cleaned_data", {}).get("q", "")
        found = None
        if asked:
            # Not what is on the shelf alone: seed may come from a neighbour.
            cards = Variety.objects.with_on_shelf().select_related("crop")
            rows = search(cards.order_by("folded_name", "pk"), asked).varieties
            found = Paginator(rows, ON_A_PAGE).get_page(self.request.GET.get("page"))
        own = Lot.objects.kept_here().with_seed().filter(custodian=self.asker)
        return super().get_context_data(
            find=self.find,
            asked=asked,
            page_obj=found,
            there=there,
            ticked=set(self.request.POST.getlist("varieties")),
            at_home=list(
                Variety.objects.filter(pk__in=own.order_by().values("variety"))
                .select_related("crop")
                .order_by("folded_name", "pk")[:MOST_AT_HOME]
            ),
            **kwargs,
        )

    def act(self, form: Any) -> SavingPlan:
        added = services.add_varieties(plan=self.plan, by=self.asker, **form.cleaned_data)
        self.added = len(added)
        return self.plan

    def said(self, form: Any, target: Any) -> str:
        if not self.added:
            return _("They stand on the list already.")
        return ngettext(
            "%(n)s variety is on the list now.",
            "%(n)s varieties are on the list now.",
            self.added,
        ) % {"n": self.added}


class RotationPage(OnePlan, TemplateView):
    template_name = "household/saving/rotation.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(
            **rotation_shown(rotation_of(self.plan, on=self.today)), **kwargs
        )


class CalendarPage(OnePlan, TemplateView):
    template_name = "household/saving/calendar.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        told = calendar_shown(calendar_of(self.plan, self.listed))
        return super().get_context_data(**told, **kwargs)


class SheetPage(OnePlan, TemplateView):
    """All of it on paper: the list, what crosses, the days with room to tick them off."""

    template_name = "household/saving/sheet.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        pairs = pair_lines(own_stands(self.plan, self.listed), self.listed)
        return super().get_context_data(
            rows=listed_rows(self.listed),
            pairs=pairs,
            cautions=cautions_of(self.listed),
            today=self.today,
            **calendar_shown(calendar_of(self.plan, self.listed)),
            **kwargs,
        )


class OneChoice(MemberPage, Asked):
    @cached_property
    def choice(self) -> SavedVariety:
        return get_object_or_404(
            SavedVariety.objects.visible_to(self.asker).with_details(), pk=self.kwargs["pk"]
        )


class ChoicePage(OneChoice, VerbPage):
    template_name = "household/saving/choice.html"
    form_class = ChoiceForm
    done = gettext_lazy("Saved.")

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"choice": self.choice}

    def get_initial(self) -> dict[str, Any]:
        return choice_initial(self.choice)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        one = listed_one(self.choice, on=self.today)
        return super().get_context_data(
            choice=self.choice,
            plan=self.choice.plan,
            one=one,
            sown_from=sown_from(one),
            cautions=cautions_of([one]),
            **kwargs,
        )

    def act(self, form: Any) -> SavingPlan:
        changed = services.change_choice(choice=self.choice, by=self.asker, **form.cleaned_data)
        return changed.plan


class ChoiceDrop(OneChoice, View):
    http_method_names = ["post"]

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        name, plan = self.choice.variety.name, self.choice.plan
        try:
            take_away(
                request,
                self.choice,
                lambda: services.drop_choice(choice=self.choice, by=self.asker),
                _("%(variety)s is off the list.") % {"variety": name},
            )
        except Refused as refusal:
            messages.error(request, str(refusal))
        return redirect(reverse("own-garden-plan", args=[plan.pk]))
