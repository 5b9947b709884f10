"""Ending a test: counting it out, sowing another group, correcting it, setting it aside."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from library.germination import forms, services
from library.germination.models import GerminationTest, Replicate
from library.germination.progress import open_dishes
from library.germination.views.common import DoneToATest, WithDishes
from library.germination.words import few_seeds_said
from library.science.sequential import Verdict


class _OfItsDishes(WithDishes, DoneToATest):
    def initial_of(self, dish: Replicate) -> dict[str, int]:
        raise NotImplementedError

    def counted_here(self) -> list[Replicate]:
        return list(self.test.replicates.all())

    def dishes(self, data: Any = None) -> forms.DishFormSet:
        sown = self.counted_here()
        initial = [self.initial_of(dish) for dish in sown]
        shown = forms.dishes(asks_seeds=False, initial=initial, data=data)
        for form, dish in zip(shown.forms, sown, strict=False):
            form.number, form.sown = dish.number, dish.seeds
        return shown


class ClosePage(_OfItsDishes):
    """The last counts of what still lies in the dishes; few seeds may stop undecided."""

    form_class = forms.CloseForm
    heading = gettext_lazy("Close the test")
    submit = gettext_lazy("Close the test")
    done = gettext_lazy("Closed.")

    @property
    def lead(self) -> str:
        if self.counted_here():
            return _(
                "All that was counted so far stands here; what is left in the dishes is hard, "
                "fresh or dead."
            )
        return _("Every group is finished. Closed now, the test decides nothing.")

    def counted_here(self) -> list[Replicate]:
        return open_dishes(self.test)

    def initial_of(self, dish: Replicate) -> dict[str, int]:
        counted = {name: getattr(dish, name) for name in services.COUNTS}
        rest = dish.seeds - sum(counted.values())
        return counted | {"dead": dish.dead + rest}

    def act(self, asked: dict[str, Any]) -> GerminationTest:
        counts = self.counted.counts()
        return services.close_test(
            test=self.test, replicates=counts, by=self.request.user, **asked
        )


class AmendPage(_OfItsDishes):
    """Correct a closed test; what it said before is kept."""

    form_class = forms.AmendForm
    heading = gettext_lazy("Amend the test")
    lead = gettext_lazy(
        "What the test said before stays on its page, with the day, your name and the reason. "
        "The seed that was used stays used."
    )
    submit = gettext_lazy("Amend it")
    done = gettext_lazy("Amended; the lot's next day is set anew.")

    def get_initial(self) -> dict[str, Any]:
        return {"started_on": self.test.started_on, "closed_on": self.test.closed_on}

    def initial_of(self, dish: Replicate) -> dict[str, int]:
        return {name: getattr(dish, name) for name in services.COUNTS}

    def act(self, asked: dict[str, Any]) -> Any:
        numbers = [dish.number for dish in self.test.replicates.all()]
        counts = dict(zip(numbers, self.counted.counts(), strict=False))
        return services.amend_test(test=self.test, dishes=counts, by=self.request.user, **asked)


class FinishPage(DoneToATest):
    """Account for the last seeds of a group, and read what the groups say."""

    template_name = "germination/finish.html"
    form_class = forms.FinishForm
    heading = gettext_lazy("Finish the group")
    submit = gettext_lazy("Finish the group")
    done = None

    def act(self, asked: dict[str, Any]) -> Verdict:
        verdict = services.finish_group(test=self.test, by=self.request.user, **asked)
        messages.success(self.request, _("The group is finished."))
        return verdict

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        so_far = services.decision_so_far(self.test)
        return super().get_context_data(
            lying=open_dishes(self.test),
            said=few_seeds_said(so_far),
            so_far=so_far,
            **kwargs,
        )


class SowMorePage(DoneToATest):
    form_class = forms.SowMoreForm
    heading = gettext_lazy("Sow another group")
    lead = gettext_lazy("Its seed is drawn from the lot now.")
    submit = gettext_lazy("Draw the seed and sow")
    done = None

    def act(self, asked: dict[str, Any]) -> Replicate:
        return services.sow_more(test=self.test, by=self.request.user, **asked)

    def where_next(self, result: Replicate) -> str:
        words = _("%(seeds)s sown as group %(number)s.")
        facts = {"seeds": result.seeds, "number": result.number}
        messages.success(self.request, words % facts)
        return reverse("test", args=[self.test.pk])


class VoidPage(DoneToATest):
    form_class = forms.VoidForm
    heading = gettext_lazy("Set the test aside")
    submit = gettext_lazy("Set aside")
    danger = True

    @property
    def lead(self) -> str:
        if self.test.state == GerminationTest.State.PLANNED:
            return _("It was planned and is not done. No seed was drawn.")
        return _("It no longer counts. The seed stays used.")

    def act(self, asked: dict[str, Any]) -> GerminationTest:
        return services.void_test(test=self.test, by=self.request.user, **asked)
