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
from django.views.generic import FormView, View

from accounts.models import Member
from library.errors import Refused

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
        if self.done:
            messages.success(self.request, str(self.done))
        return redirect(target)

    def form_invalid(self, form: Form) -> HttpResponse:
        return self._again(form, 400)

    def _again(self, form: Form, status: int) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=status)


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
