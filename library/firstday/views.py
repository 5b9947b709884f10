"""The first day's pages. Each step is a form of the settings, and can be passed over."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.generic import TemplateView, View

from accounts import services as people
from accounts.access import AdministratorPage, MemberPage
from accounts.models import Community
from library.firstday import forms, services
from library.firstday.mailtest import send_test_mail
from library.firstday.models import SetupStep
from library.lending.models import LendingRules
from library.lending.services import change_lending_rules
from library.lending.views.base import VerbPage
from library.stock.models import StoragePlace
from library.stock.services import add_storage_place

Step, State = SetupStep.Step, SetupStep.State


def steps_shown() -> list[dict[str, Any]]:
    known = services.standing()
    return [
        {"step": step, "label": Step(step).label, "state": state, "address": step_address(step)}
        for step, state in known.items()
    ]


def step_address(step: str) -> str:
    return reverse(f"first-day-{step}")


class FirstDayPage(AdministratorPage, TemplateView):
    """All steps, with what was done; it can be left and gone on with on another day."""

    template_name = "firstday/first_day.html"

    def get_context_data(self, **kwargs) -> dict:
        following = services.next_step()
        return super().get_context_data(
            steps=steps_shown(),
            following=following and step_address(following),
            **kwargs,
        )


class StepPage(AdministratorPage, VerbPage):
    """One step: a form with its defaults, a button to save, and one to pass it over."""

    template_name = "firstday/step.html"
    step: Any = ""
    lead: Any = ""
    submit: Any = gettext_lazy("Save and go on")

    def get_context_data(self, **kwargs) -> dict:
        steps = list(Step.values)
        return super().get_context_data(
            step=self.step,
            heading=self.step.label,
            lead=self.lead,
            submit=self.submit,
            number=steps.index(self.step) + 1,
            count=len(steps),
            **kwargs,
        )

    def act(self, form) -> str:
        self.save(form)
        services.note_step(step=self.step, state=State.DONE, by=self.asker)
        return after(self.step)

    def save(self, form) -> None:
        raise NotImplementedError


def after(step: str) -> str:
    """Where the first day goes on."""
    following = services.next_step(after=step)
    return step_address(following) if following else reverse("first-day")


class CommunityStep(StepPage):
    step = Step.COMMUNITY
    form_class = forms.FirstCommunityForm
    lead = gettext_lazy(
        "What members see first, and the frosts that sowing and due dates are counted from."
    )
    done = gettext_lazy("The library has its name, place and season.")

    def get_form_kwargs(self) -> dict:
        fresh = Community.objects.filter(pk=Community.current().pk).first()
        return super().get_form_kwargs() | {"instance": fresh}

    def save(self, form) -> None:
        people.save_community(by=self.asker, **form.cleaned_data)


class RulesStep(StepPage):
    step = Step.RULES
    form_class = forms.FirstRulesForm
    lead = gettext_lazy(
        "How much one member can have out at a time. The figures are a sensible beginning."
    )
    done = gettext_lazy("The rules are kept.")

    def get_form_kwargs(self) -> dict:
        return super().get_form_kwargs() | {"instance": LendingRules.current()}

    def save(self, form) -> None:
        change_lending_rules(by=self.asker, **form.cleaned_data)


class PlacesStep(StepPage):
    step = Step.PLACES
    form_class = forms.FirstPlaceForm
    lead = gettext_lazy(
        "Where seed will lie. Dry and cool keeps it longest; leave what nobody measured empty."
    )
    done = gettext_lazy("The place is there. More can be added under Storage.")

    def get_initial(self) -> dict:
        kinds = [value for value, _label in StoragePlace._meta.get_field("kind").choices or []]
        name = _("Seed cupboard")
        taken = StoragePlace.objects.filter(name=name).exists()
        kind = "cupboard" if "cupboard" in kinds else kinds[0]
        return {} if taken else {"name": name, "kind": kind}

    def save(self, form) -> None:
        add_storage_place(by=self.asker, **form.cleaned_data)


class CoordinatorStep(StepPage):
    step = Step.COORDINATOR
    form_class = forms.FirstInviteForm
    submit = gettext_lazy("Invite and go on")
    lead = gettext_lazy(
        "Two people know more than one. They get a link by mail; you can pass this over and "
        "do both yourself."
    )
    done = gettext_lazy("The invitation is on its way.")

    def save(self, form) -> None:
        people.invite(by=self.asker, **form.cleaned_data)


class MailStep(StepPage):
    step = Step.MAIL
    template_name = "firstday/mail.html"
    form_class = forms.MailTestForm
    lead = gettext_lazy("Reminders and invitations go by mail. Send one to yourself and see.")

    def form_valid(self, form) -> HttpResponse:
        """The answer is shown at once; only a mail that was taken is a step that is done."""
        answer = send_test_mail(to=self.asker)
        if answer.taken:
            services.note_step(step=self.step, state=State.DONE, by=self.asker)
        following = after(self.step)
        return self.render_to_response(
            self.get_context_data(form=form, answer=answer, following=following)
        )


class PassOver(AdministratorPage, View):
    """Leave one step for later, or for good."""

    http_method_names = ["post"]

    def post(self, request: HttpRequest, step: str) -> HttpResponse:
        if step not in Step.values:
            raise Http404
        services.note_step(step=step, state=State.SKIPPED, by=self.request.user)
        return redirect(after(step))


class LeaveTheRest(AdministratorPage, View):
    http_method_names = ["post"]

    def post(self, request: HttpRequest) -> HttpResponse:
        services.leave_the_rest(by=self.request.user)
        messages.success(
            request, _("It is not offered any more; all of it is in the settings.")
        )
        return redirect("home")


class WelcomeAway(MemberPage, View):
    """Put the welcome at home away, for good."""

    http_method_names = ["post"]

    def post(self, request: HttpRequest) -> HttpResponse:
        services.put_welcome_away(member=self.request.user)
        return redirect("home")
