"""From the kitchen back: what is eaten and preserved, and what must grow for it."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.generic import TemplateView, View

from accounts.access import MemberPage
from library.catalogue.models import Crop
from library.catalogue.reference_words import in_shown_order
from library.growouts.views.seasons.base import Asked
from library.household.forms.kitchen import (
    CropForm,
    DishForm,
    MarginForm,
    NewKitchenForm,
    TakeOverForm,
    dish_initial,
)
from library.household.kitchen.isolation import list_of, pairs_of
from library.household.kitchen.reckoning import Kitchen, kitchen_of, reckoned_one
from library.household.kitchen.tables import foods
from library.household.kitchen.words import card_of, cards_of, cautions_of
from library.household.models import Dish, KitchenPlan, SavingPlan
from library.household.services import kitchen as services
from library.household.views.taking_away import take_away
from library.lending.views.base import VerbPage
from library.stock.service_pages import number_asked

ON_A_PAGE = 30


class KitchensPage(MemberPage, Asked, TemplateView):
    template_name = "household/kitchen/home.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        plans = KitchenPlan.objects.of(self.asker).with_details()
        rows = plans.order_by("-year", "garden__name", "pk")
        page = Paginator(rows, ON_A_PAGE).get_page(self.request.GET.get("page"))
        return super().get_context_data(
            page_obj=page, has_garden=self.asker.gardens.exists(), **kwargs
        )


class KitchenNewPage(MemberPage, Asked, VerbPage):
    template_name = "household/kitchen/plan_form.html"
    form_class = NewKitchenForm

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"gardens": self.asker.gardens.all()}

    def get_initial(self) -> dict[str, Any]:
        usual = self.asker.gardens.filter(is_default=True).first()
        return {"garden": usual, "year": self.today.year + (self.today.month > 8)}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(has_garden=self.asker.gardens.exists(), **kwargs)

    def act(self, form: Any) -> KitchenPlan:
        return services.make_plan(by=self.asker, **form.cleaned_data)


class OneKitchen(MemberPage, Asked):
    """A page about one of the member's own plans; another's is not there."""

    @cached_property
    def plan(self) -> KitchenPlan:
        own = KitchenPlan.objects.visible_to(self.asker).with_details()
        return get_object_or_404(own, pk=self.kwargs["pk"])

    @cached_property
    def kitchen(self) -> Kitchen:
        return kitchen_of(self.plan, on=self.today)

    @cached_property
    def there(self) -> SavingPlan | None:
        return list_of(self.kitchen)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(plan=self.plan, **kwargs)  # type: ignore[misc]


class KitchenPage(OneKitchen, TemplateView):
    template_name = "household/kitchen/plan.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        pairs = []
        if self.kitchen.to_save:
            pairs = pairs_of(self.kitchen, self.there, on=self.today)
        return super().get_context_data(
            kitchen=self.kitchen,
            cards=in_shown_order(
                cards_of(self.kitchen), stored=lambda card: card.one.dish.crop.name
            ),
            cautions=cautions_of(self.kitchen),
            preserves=any(one.product for one in self.kitchen.dishes),
            crossing=[pair for pair in pairs if not pair.is_well],
            apart=[pair for pair in pairs if pair.is_well],
            there=self.there,
            **kwargs,
        )


class KitchenChangePage(OneKitchen, VerbPage):
    template_name = "household/kitchen/plan_form.html"
    form_class = MarginForm
    done = gettext_lazy("Saved.")

    def get_initial(self) -> dict[str, Any]:
        return {"margin_percent": self.plan.margin_percent}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(has_garden=True, **kwargs)

    def act(self, form: Any) -> KitchenPlan:
        return services.change_plan(plan=self.plan, by=self.asker, **form.cleaned_data)


class KitchenRemove(OneKitchen, View):
    http_method_names = ["post"]

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        take_away(
            request,
            self.plan,
            lambda: services.remove_plan(plan=self.plan, by=self.asker),
            _("The plan is gone."),
        )
        return redirect("kitchens")


class DishNewPage(OneKitchen, VerbPage):
    """First the crop, by its address; then what is made of it."""

    template_name = "household/kitchen/dish_form.html"
    form_class = DishForm
    done = gettext_lazy("It is in the plan.")

    @cached_property
    def crop(self) -> Crop | None:
        asked = number_asked(self.request.GET.get("crop", ""))
        return Crop.objects.filter(pk=asked).first() if asked is not None else None

    def get_form(self, form_class: Any = None) -> Any:
        return CropForm() if self.crop is None else super().get_form(form_class)

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if self.crop is None:
            form = CropForm(request.POST)
            form.is_valid()
            return self.form_invalid(form)
        return super().post(request, *args, **kwargs)

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"crop": self.crop}

    def get_initial(self) -> dict[str, Any]:
        return {"times": 1}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        known = foods().get(self.crop.name) if self.crop else None
        return super().get_context_data(crop=self.crop, known=known, **kwargs)

    def act(self, form: Any) -> KitchenPlan:
        assert self.crop is not None  # noqa: S101  # post() has looked
        services.add_dish(plan=self.plan, crop=self.crop, by=self.asker, **form.cleaned_data)
        return self.plan


class OneDish(MemberPage, Asked):
    @cached_property
    def dish(self) -> Dish:
        own = Dish.objects.visible_to(self.asker).with_details()
        return get_object_or_404(own, pk=self.kwargs["pk"])


class DishPage(OneDish, VerbPage):
    template_name = "household/kitchen/dish_form.html"
    form_class = DishForm
    done = gettext_lazy("Saved.")

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"crop": self.dish.crop}

    def get_initial(self) -> dict[str, Any]:
        return dish_initial(self.dish)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(
            dish=self.dish,
            plan=self.dish.plan,
            crop=self.dish.crop,
            known=foods().get(self.dish.crop.name),
            card=card_of(reckoned_one(self.dish, on=self.today)),
            **kwargs,
        )

    def act(self, form: Any) -> KitchenPlan:
        changed = services.change_dish(dish=self.dish, by=self.asker, **form.cleaned_data)
        return changed.plan


class DishRemove(OneDish, View):
    http_method_names = ["post"]

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        plan = self.dish.plan
        take_away(
            request,
            self.dish,
            lambda: services.remove_dish(dish=self.dish, by=self.asker),
            _("Removed."),
        )
        return redirect(plan)


class TakeOverPage(OneKitchen, VerbPage):
    """Into the garden's list of seed; the room is asked for where there is none yet."""

    template_name = "household/kitchen/take_over.html"
    form_class = TakeOverForm

    def get_initial(self) -> dict[str, Any]:
        return {"room_m2": self.plan.garden.area_m2}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(
            there=self.there, to_save=self.kitchen.to_save, **kwargs
        )

    def act(self, form: Any) -> SavingPlan:
        there, self.added = services.take_over(
            plan=self.plan,
            by=self.asker,
            plants=self.kitchen.plants_for_seed,
            room_m2=form.cleaned_data.get("room_m2"),
        )
        return there

    def said(self, form: Any, target: Any) -> str:
        if not self.added:
            return _("They stand on the list already.")
        return ngettext(
            "%(n)s variety is on the list now.",
            "%(n)s varieties are on the list now.",
            len(self.added),
        ) % {"n": len(self.added)}
