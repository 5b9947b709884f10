"""Who may open a page or call an endpoint: one place for every app.

Anonymous people are asked to sign in; somebody who may not see the thing is told that there
is none (404), on pages and in the API alike.
"""

from __future__ import annotations

from typing import Any

from django.contrib.auth.mixins import AccessMixin
from django.http import Http404, HttpRequest
from django.views.generic import View
from rest_framework.permissions import SAFE_METHODS, BasePermission

from accounts.models import Community, Member
from accounts.roles import ADMINISTER, BORROW, COORDINATE, SERVE_DESK


class MemberRequest(HttpRequest):
    """A request of somebody who is signed in, as the pages below have it."""

    user: Member


class PermissionPage(AccessMixin, View):
    """A page for those who hold ``needs``."""

    request: Any  # in fact a MemberRequest; django-stubs allows no narrower type here
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


class SignedInPage(AccessMixin, View):
    """A page for anyone with an account, approved or not (their own account)."""

    request: Any  # in fact a MemberRequest

    def dispatch(self, request, *args, **kwargs):
        if not request.user.is_authenticated:
            return self.handle_no_permission()
        return super().dispatch(request, *args, **kwargs)


class CataloguePage(AccessMixin, View):
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
