"""The members, for coordinators; roles and the community's settings, for administrators."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse, reverse_lazy
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.views.generic import DetailView, ListView, View

from accounts import services
from accounts.access import AdministratorPage, CoordinatorPage, MemberRequest
from accounts.forms import (
    AnswerForm,
    CommunityForm,
    EndForm,
    InviteForm,
    MemberSearch,
    RoleForm,
)
from accounts.models import Community, Invitation, Member, Membership
from accounts.roles import ADMINISTER, COORDINATE, PERMISSIONS_OF, Role
from accounts.views.answering import ServiceForm, say
from library.errors import Refused

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise


def roles_to_give(by: Member) -> list[str]:
    """The roles that this coordinator may invite to."""
    if by.has_perm(ADMINISTER):
        return list(Role.values)
    return [role for role in Role.values if COORDINATE not in PERMISSIONS_OF[role]]


class MembersPage(CoordinatorPage, ListView):
    """Who waits, who is invited, and everyone who is a member."""

    template_name = "accounts/members.html"
    context_object_name = "members"
    paginate_by = 50

    def get_queryset(self):
        self.search = MemberSearch(self.request.GET)
        if not self.search.is_valid():
            return Member.objects.none()
        if membership := self.search.cleaned_data["membership"]:
            members = Member.objects.filter(membership=membership)
        else:
            members = Member.objects.active()
        members = members.order_by("display_name_key")
        if text := self.search.cleaned_data["q"]:
            members = members.named_like(text)
        if role := self.search.cleaned_data["role"]:
            members = members.filter(role=role)
        return members

    def get_context_data(self, **kwargs) -> dict:
        context = super().get_context_data(
            search=self.search,
            waiting=Member.objects.waiting().order_by("applied_at"),
            invitations=Invitation.objects.open().select_related("invited_by"),
            invite_form=InviteForm(roles=roles_to_give(self.request.user)),
            now=timezone.now(),
            **kwargs,
        )
        page = context["page_obj"]
        page.numbers = page.paginator.get_elided_page_range(page.number)
        return context


class InvitePage(CoordinatorPage, ServiceForm):
    template_name = "accounts/invite.html"
    form_class = InviteForm
    success_url = reverse_lazy("members")
    done = _("The invitation is on its way.")

    def get_form_kwargs(self) -> dict:
        return {**super().get_form_kwargs(), "roles": roles_to_give(self.request.user)}

    def act(self, form: InviteForm) -> None:
        services.invite(by=self.request.user, **form.cleaned_data)


class InvitationWithdrawPage(CoordinatorPage, View):
    http_method_names = ["post"]

    def post(self, request: MemberRequest, pk: int) -> HttpResponse:
        invitation = get_object_or_404(Invitation, pk=pk)
        try:
            services.withdraw_invitation(invitation=invitation, by=request.user)
            messages.success(request, _("The invitation was withdrawn."))
        except Refused as error:
            say(request, error)
        return redirect("members")


class MemberDetailPage(CoordinatorPage, DetailView):
    """One member, with what only coordinators may see: email, gardens, history."""

    template_name = "accounts/member.html"
    context_object_name = "person"
    queryset = Member.objects.select_related("decided_by").telling_confirmed()

    def get_context_data(self, **kwargs) -> dict:
        return super().get_context_data(
            events=self.object.events.select_related("by"),
            gardens=self.object.gardens.all(),
            answer_form=AnswerForm(),
            role_form=RoleForm(initial={"role": self.object.role}),
            end_form=EndForm(),
            may_end=self._may_end(),
            **kwargs,
        )

    def _may_end(self) -> bool:
        by = self.request.user
        return (
            self.object.membership != Membership.LEFT
            and self.object != by
            and (by.has_perm(ADMINISTER) or not self.object.has_perm(COORDINATE))
        )


class MemberAction(ServiceForm):
    """One of the forms on a member's page."""

    template_name = "accounts/member_action.html"
    heading: StrOrPromise = ""
    submit: StrOrPromise = ""
    danger = False

    def get_member(self) -> Member:
        return get_object_or_404(Member, pk=self.kwargs["pk"])

    def get_context_data(self, **kwargs) -> dict:
        return super().get_context_data(
            person=self.get_member(),
            heading=self.heading,
            submit=self.submit,
            danger=self.danger,
            **kwargs,
        )

    def get_success_url(self) -> str:
        return reverse("members")


class ApprovePage(CoordinatorPage, MemberAction):
    form_class = AnswerForm
    heading = _("Approve")
    submit = _("Approve")
    done = _("Approved. A mail is on its way.")

    def act(self, form: AnswerForm) -> None:
        services.approve(member=self.get_member(), by=self.request.user, **form.cleaned_data)


class DeclinePage(CoordinatorPage, MemberAction):
    form_class = AnswerForm
    heading = _("Decline")
    submit = _("Decline")
    danger = True
    done = _("Declined. A mail is on its way.")

    def act(self, form: AnswerForm) -> None:
        services.decline(member=self.get_member(), by=self.request.user, **form.cleaned_data)


class RolePage(AdministratorPage, MemberAction):
    form_class = RoleForm
    heading = _("Change role")
    submit = _("Change role")
    done = _("The role was changed.")

    def get_initial(self) -> dict:
        return {"role": self.get_member().role}

    def act(self, form: RoleForm) -> None:
        services.change_role(
            member=self.get_member(), by=self.request.user, **form.cleaned_data
        )

    def get_success_url(self) -> str:
        if self.request.user.pk != self.kwargs["pk"]:
            return reverse("member", kwargs={"pk": self.kwargs["pk"]})
        return reverse("home")  # who gave up their own role may not see the page any more


class EndPage(CoordinatorPage, MemberAction):
    form_class = EndForm
    heading = _("End this membership")
    submit = _("End membership")
    danger = True
    done = _("The membership has ended.")

    def get_member(self) -> Member:
        member = super().get_member()
        if member.membership == Membership.LEFT:
            raise Http404
        return member

    def act(self, form: EndForm) -> None:
        given = form.cleaned_data
        services.leave(
            member=self.get_member(),
            by=self.request.user,
            keep_name=given["keep_name"],
            note=given["note"],
        )


class CommunityPage(AdministratorPage, ServiceForm):
    """The library's name, place, welcome and manner of letting people in."""

    template_name = "accounts/community.html"
    form_class = CommunityForm
    success_url = reverse_lazy("community")
    done = _("Saved.")

    def get_form_kwargs(self) -> dict:
        fresh = Community.objects.filter(pk=Community.current().pk).first()
        return {**super().get_form_kwargs(), "instance": fresh}

    def act(self, form: CommunityForm) -> None:
        services.save_community(by=self.request.user, **form.cleaned_data)
