"""Taking away without being asked first, since one press puts it back."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.generic import View

from accounts.access import MemberPage
from library.errors import Refused

KEPT = "taken-away"


def take_away(
    request: HttpRequest, *, kept: str, remove: Callable[[], None], told: str, undo: str
) -> None:
    """Remove it, and say so beside a button that puts it back at ``undo``, an address of a
    PutBackPage. Only what was taken away last in this session can come back.
    """
    remove()
    request.session[KEPT] = {"undo": undo, "kept": kept}
    messages.success(request, told, extra_tags=undo)


class PutBackPage(MemberPage, View):
    """Puts back what was taken away last, if it was taken away here."""

    http_method_names = ["post"]

    def put_back(self, kept: str) -> Any:
        """Write it down again and return it, or where to go. Raises Refused where it cannot."""
        raise NotImplementedError

    def nowhere(self) -> str:
        """Where to go when nothing came back."""
        raise NotImplementedError

    def post(self, request: HttpRequest) -> HttpResponse:
        taken = request.session.get(KEPT)
        if taken is None or taken["undo"] != request.path:
            messages.error(request, _("There is nothing to put back any more."))
            return redirect(self.nowhere())
        del request.session[KEPT]
        try:
            thing = self.put_back(taken["kept"])
        except Refused as refusal:
            messages.error(request, str(refusal))
            return redirect(self.nowhere())
        messages.success(request, _("It is back, as it was."))
        return redirect(thing)
