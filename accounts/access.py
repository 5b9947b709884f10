"""Who may open a page or call an endpoint: one place for every app.

Anonymous people are asked to sign in; somebody who may not see the thing is told that there
is none (404), on pages and in the API alike.
"""

from __future__ import annotations

from typing import Any
from urllib.parse import urlsplit, urlunsplit

from django.contrib.auth.mixins import AccessMixin
from django.contrib.auth.views import redirect_to_login
from django.http import Http404, HttpRequest, HttpResponseRedirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.generic import View
from rest_framework.permissions import SAFE_METHODS, BasePermission

from accounts.models import Community, Member
from accounts.roles import ADMINISTER, BORROW, COORDINATE, SERVE_DESK


class MemberRequest(HttpRequest):
    """A request of somebody who is signed in, as the pages below have it."""

    user: Member


class Page(AccessMixin, View):
    """A page that may ask to sign in first. It is read and it takes a form, nothing else:
    Django's FormView would take a PUT for an empty POST.
    """

    request: Any  # in fact a MemberRequest; django-stubs allows no narrower type here
    http_method_names = ["get", "post", "head", "options"]

    def handle_no_permission(self) -> HttpResponseRedirect:
        return redirect_to_login(after_signing_in(self.request))


def after_signing_in(request: HttpRequest) -> str:
    """The page that was asked for; of a form that was sent, the page that it was on.

    What was sent is gone with the session, and many forms have no page at their own address.
    """
    if request.method in SAFE_METHODS:
        return request.get_full_path()
    came_from = request.headers.get("Referer", "")
    if not url_has_allowed_host_and_scheme(came_from, allowed_hosts={request.get_host()}):
        return reverse("home")
    return urlunsplit(urlsplit(came_from)._replace(scheme="", netloc="", fragment=""))


class PermissionPage(Page):
    """A page for those who hold ``needs``."""

    kwargs: dict
    needs = BORROW

    def dispatch(self, request, *args, **kwargs):
        if not request.user.is_authenticated:
            return self.handle_no_permission()
        if not request.user.has_perm(self.needs):
            raise Http404
        return super().dispatch(request, *args, **kwargs)


class MemberPage(PermissionPage):
    """A page for approved members."""


class DeskPage(PermissionPage):
    needs = SERVE_DESK


class CoordinatorPage(PermissionPage):
    needs = COORDINATE


class AdministratorPage(PermissionPage):
    needs = ADMINISTER


class SignedInPage(Page):
    """A page for anyone with an account, approved or not (their own account)."""

    def dispatch(self, request, *args, **kwargs):
        if not request.user.is_authenticated:
            return self.handle_no_permission()
        return super().dispatch(request, *args, **kwargs)


class CataloguePage(Page):
    """A page for everyone, unless the community keeps its catalogue to its members."""

    def dispatch(self, request, *args, **kwargs):
        if not may_browse(request.user):
            if request.user.is_authenticated:
                raise Http404
            return self.handle_no_permission()
        return super().dispatch(request, *args, **kwargs)


def may_browse(user) -> bool:
    return user.has_perm(BORROW) or Community.current().catalogue_is_public


class HoldsPermission(BasePermission):
    """DRF: 401 for nobody, 404 for somebody who may not know of it."""

    needs = BORROW

    def has_permission(self, request, view) -> bool:
        if not request.user.is_authenticated:
            return False
        if not request.user.has_perm(self.needs):
            raise Http404
        return True


class IsMember(HoldsPermission):
    pass


class IsDesk(HoldsPermission):
    needs = SERVE_DESK


class IsCoordinator(HoldsPermission):
    needs = COORDINATE


class IsMemberOrReadOnly(IsMember):
    """The catalogue's rule: read as the community allows, write as a member."""

    def has_permission(self, request, view) -> bool:
        if request.method in SAFE_METHODS and may_browse(request.user):
            return True
        return super().has_permission(request, view)
