"""What the pages share: a form that calls one service, and a button that does."""

from __future__ import annotations

import datetime as dt
from typing import Any, cast

from django.contrib import messages
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.generic import FormView, View

from accounts.models import Member
from library.errors import Refused
from library.lending.models import Deposit, Return
from library.stock.models import Lot
from library.stock.services import seeds_from_weight
from library.stock.services.checks import plain

StrOrPromise = str | Promise


class _Asked:
    """Who asks, and on which day."""

    request: HttpRequest

    @property
    def asker(self) -> Member:
        return cast(Member, self.request.user)

    @property
    def today(self) -> dt.date:
        return timezone.localdate()


class VerbPage(_Asked, FormView):
    """A form whose answer is one call of a service; what it refuses is said at the field."""

    done: StrOrPromise = ""

    def act(self, form: Form):
        """Call the service; return what ``redirect`` takes."""
        raise NotImplementedError

    def form_valid(self, form: Form) -> HttpResponse:
        try:
            target = self.act(form)
        except Refused as refusal:
            field = refusal.field if refusal.field in form.fields else None
            form.add_error(field, str(refusal))
            return self._again(form, refusal.status)
        said = self.said(form, target)
        if said:
            messages.success(self.request, said)
        return redirect(target)

    def said(self, form: Form, target: Any) -> str:
        """What the next page says was done."""
        return str(self.done)

    def form_invalid(self, form: Form) -> HttpResponse:
        return self._again(form, 400)

    def _again(self, form: Form, status: int) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=status)


class ReceivingPage(VerbPage):
    """A form that makes a lot of what was counted or weighed, and says how weight was read."""

    done = gettext_lazy("Received. Its first test is planned.")

    def said(self, form: Form, target: Lot) -> str:
        grams = form.cleaned_data.get("grams")
        if grams is None:
            return str(self.done)
        each = form.cleaned_data.get("thousand_seed_weight_g")
        weighed = seeds_from_weight(
            grams=grams, variety=target.variety, thousand_seed_weight_g=each
        )
        return _(
            "Received %(grams)s g at %(each)s g for a thousand: %(seeds)s seeds. "
            "Its first test is planned."
        ) % {
            "grams": plain(weighed.grams),
            "each": plain(weighed.thousand_seed_weight_g),
            "seeds": weighed.seeds,
        }


def counted_or_weighed(told: Deposit | Return) -> dict[str, Any]:
    """What was told of the quantity, to begin a form with: the count, else the weight."""
    if told.seeds or told.grams is None:
        return {"seeds": told.seeds}
    return {"grams": plain(told.grams)}


class VerbButton(_Asked, View):
    """A POST that does one thing to one row and goes back; a refusal becomes a message."""

    http_method_names = ["post"]
    rows: Any = None
    done: StrOrPromise = ""

    def act(self, row):
        """Call the service; return what ``redirect`` takes."""
        raise NotImplementedError

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        row = get_object_or_404(self.rows.visible_to(request.user), pk=pk)
        try:
            target = self.act(row)
        except Refused as refusal:
            messages.error(request, str(refusal))
            return redirect(row)
        messages.success(request, str(self.done))
        return redirect(target)
