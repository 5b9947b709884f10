"""How a page says no: the form again, with the sentence at its field."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.generic import FormView

from library.errors import Refused

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise


class ServiceForm(FormView):
    """A form whose valid input goes to one service; a refusal comes back on the form."""

    done: StrOrPromise = ""

    def act(self, form) -> None:
        raise NotImplementedError

    def form_valid(self, form) -> HttpResponse:
        try:
            self.act(form)
        except Refused as error:
            form.refuse(error)
            return self.render_to_response(
                self.get_context_data(form=form), status=error.status
            )
        if self.done:
            messages.success(self.request, self.done)
        return redirect(self.get_success_url())

    def form_invalid(self, form) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=400)


def say(request: HttpRequest, error: Refused) -> None:
    """Show a refusal where there is no form to show it on."""
    messages.error(request, str(error))
