"""Taking away without being asked first, since one press puts it back."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.generic import View

from accounts.access import MemberPage
from library.errors import Refused
from library.growouts.views.seasons.base import Asked
from library.household.models import Dish, SavedVariety
from library.household.services.putting_back import Thing, as_kept, put_back

KEPT = "household-taken-away"


def take_away(
    request: HttpRequest, thing: Thing, remove: Callable[[], None], told: str
) -> None:
    """Remove it, and say so beside a button that puts it back. Only the last can come back."""
    kept = as_kept(thing)
    remove()
    request.session[KEPT] = kept
    messages.success(request, told, extra_tags=reverse("own-garden-put-back"))


class PutBack(MemberPage, Asked, View):
    http_method_names = ["post"]

    def post(self, request: HttpRequest) -> HttpResponse:
        kept = request.session.pop(KEPT, None)
        if kept is None:
            messages.error(request, _("There is nothing to put back any more."))
            return redirect("own-garden")
        try:
            thing = put_back(kept=kept, by=self.asker)
        except Refused as refusal:
            messages.error(request, str(refusal))
            return redirect("own-garden")
        messages.success(request, _("It is back, as it was."))
        return redirect(thing.plan if isinstance(thing, SavedVariety | Dish) else thing)
