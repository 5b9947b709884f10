"""One's own account: preferences, gardens, tokens, leaving, and coming by invitation."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_list_or_404, get_object_or_404, redirect, render
from django.urls import reverse, reverse_lazy
from django.utils.decorators import method_decorator
from django.utils.translation import gettext_lazy as _
from django.views.decorators.cache import never_cache
from django.views.generic import DetailView, ListView, View

from accounts import services
from accounts.access import MemberPage, MemberRequest, SignedInPage
from accounts.adapter import hold_invitation
from accounts.export import known_of
from accounts.forms import GardenForm, LeaveForm, PreferencesForm, TokenForm
from accounts.models import ApiToken, Community, Garden, Member
from accounts.views.answering import ServiceForm, say
from library.errors import Refused


class AccountPage(SignedInPage, ServiceForm):
    """What the member chose for themselves, and the ways to everything else of theirs."""

    template_name = "accounts/account.html"
    form_class = PreferencesForm
    success_url = reverse_lazy("account")
    done = _("Saved.")

    def get_form_kwargs(self) -> dict:
        # A copy: checking the form must not change the name in the page's head.
        member = Member.objects.get(pk=self.request.user.pk)
        return {**super().get_form_kwargs(), "instance": member}

    def act(self, form: PreferencesForm) -> None:
        services.save_preferences(member=self.request.user, **form.cleaned_data)

    def get_context_data(self, **kwargs) -> dict:
        member = self.request.user
        return super().get_context_data(
            gardens=member.gardens.all(), tokens=member.auth_token_set.all(), **kwargs
        )


class DownloadPage(SignedInPage, View):
    """What is kept of this person here, as JSON."""

    def get(self, request: MemberRequest) -> HttpResponse:
        response = JsonResponse(known_of(request.user), json_dumps_params={"indent": 2})
        response["Content-Disposition"] = 'attachment; filename="account.json"'
        return response


class LeavePage(SignedInPage, ServiceForm):
    template_name = "accounts/leave.html"
    form_class = LeaveForm
    success_url = reverse_lazy("home")
    done = _("You have left. Thank you for the seed.")

    def act(self, form: LeaveForm) -> None:
        member = self.request.user
        services.leave(member=member, by=member, keep_name=form.cleaned_data["keep_name"])
        logout(self.request)


# Gardens --------------------------------------------------------------------------------


class OwnGarden(MemberPage):
    """A page about one of the member's own gardens; another's is not there."""

    def get_garden(self) -> Garden:
        return get_object_or_404(self.request.user.gardens, pk=self.kwargs["pk"])


class GardensPage(MemberPage, ListView):
    template_name = "accounts/gardens.html"
    context_object_name = "gardens"

    def get_queryset(self):
        return self.request.user.gardens.all()


class GardenAddPage(MemberPage, ServiceForm):
    template_name = "accounts/garden_form.html"
    form_class = GardenForm
    success_url = reverse_lazy("account-gardens")
    done = _("The garden is kept.")

    def get_initial(self) -> dict:
        """The library's frost dates, to start from."""
        community = Community.current()
        return {
            "last_spring_frost": community.last_spring_frost,
            "first_autumn_frost": community.first_autumn_frost,
            "never_freezes": community.never_freezes,
        }

    def act(self, form: GardenForm) -> None:
        member = self.request.user
        services.add_garden(member=member, by=member, **form.cleaned_data)


class GardenEditPage(OwnGarden, ServiceForm):
    template_name = "accounts/garden_form.html"
    form_class = GardenForm
    success_url = reverse_lazy("account-gardens")
    done = _("The garden is kept.")

    def get_form_kwargs(self) -> dict:
        return {**super().get_form_kwargs(), "instance": self.get_garden()}

    def act(self, form: GardenForm) -> None:
        services.edit_garden(garden=form.instance, by=self.request.user, **form.cleaned_data)


class GardenRemovePage(OwnGarden, DetailView):
    template_name = "accounts/garden_remove.html"
    context_object_name = "garden"

    def get_object(self, queryset=None) -> Garden:
        return self.get_garden()

    def post(self, request: MemberRequest, pk: int) -> HttpResponse:
        try:
            services.remove_garden(garden=self.get_garden(), by=request.user)
        except Refused as error:
            say(request, error)
        else:
            messages.success(request, _("The garden was removed."))
        return redirect("account-gardens")


# Tokens ---------------------------------------------------------------------------------


@method_decorator(never_cache, name="dispatch")
class TokensPage(MemberPage, ServiceForm):
    """The member's tokens; a new one's secret is shown in the answer that made it, only."""

    template_name = "accounts/tokens.html"
    form_class = TokenForm

    def get_context_data(self, **kwargs) -> dict:
        return super().get_context_data(tokens=self.request.user.auth_token_set.all(), **kwargs)

    def form_valid(self, form: TokenForm) -> HttpResponse:
        try:
            token, secret = services.make_token(member=self.request.user, **form.cleaned_data)
        except Refused as error:
            form.refuse(error)
            return self.form_invalid(form)
        context = self.get_context_data(form=TokenForm(), made=token, secret=secret)
        return self.render_to_response(context)


class TokenRevokePage(MemberPage, View):
    http_method_names = ["post"]

    def post(self, request: MemberRequest, token_key: str) -> HttpResponse:
        own = request.user.auth_token_set.all()
        tokens: list[ApiToken] = get_list_or_404(own, token_key=token_key)
        for token in tokens:
            services.revoke_token(token=token, by=request.user)
            messages.success(request, _("The token “%s” opens nothing any more.") % token.name)
        return redirect("account-tokens")


# Invitations ----------------------------------------------------------------------------


@method_decorator(never_cache, name="dispatch")
class InvitationPage(View):
    """Where an invitation's link leads: to signing up, or straight in for an applicant."""

    def get(self, request: HttpRequest, key) -> HttpResponse:
        try:
            invitation = services.usable_invitation(key)
        except Refused as error:
            return self._no_use(request, error)
        context = {"invitation": invitation}
        return render(request, "accounts/invitation.html", context)

    def post(self, request: HttpRequest, key) -> HttpResponse:
        try:
            invitation = services.usable_invitation(key)
            if request.user.is_authenticated:
                services.accept_as_applicant(key=key, member=request.user)
                messages.success(request, _("Welcome! You are a member now."))
                return redirect("home")
        except Refused as error:
            return self._no_use(request, error)
        hold_invitation(request, invitation)
        return redirect(reverse("account_signup"))

    def _no_use(self, request: HttpRequest, error: Refused) -> HttpResponse:
        context = {"error": error}
        return render(request, "accounts/invitation.html", context, status=error.status)
