"""A page that asks for some facts and calls one service with them."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.views.generic import FormView

from library.errors import Refused

LONGEST_NUMBER = 18  # digits that any database's big integer holds


def number_asked(text: str) -> int | None:
    """A row's number as it stands in an address; None for what no row can be numbered."""
    fits = text.isascii() and text.isdigit() and len(text) <= LONGEST_NUMBER
    return int(text) if fits else None


class DayInput(forms.DateInput):
    input_type = "date"

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(format="%Y-%m-%d", **kwargs)


def day_field(label: Any = "", **kwargs: Any) -> forms.DateField:
    """A day, today unless told otherwise."""
    return forms.DateField(
        label=label or _("Day"), initial=timezone.localdate, widget=DayInput, **kwargs
    )


class ServicePage(FormView):
    """Shows a form; ``act`` calls the service. A refusal is said at its field."""

    template_name = "stock/act.html"
    heading: Any = ""
    lead: Any = ""
    submit: Any = _("Save")
    danger = False
    done: Any = _("Done.")

    def act(self, asked: dict[str, Any]) -> Any:
        """Call the service; what it returns is handed to ``where_next``."""
        raise NotImplementedError

    def where_next(self, result: Any) -> str:
        return self.back_to()

    def back_to(self) -> str:
        """Where "Cancel" leads, and where a page that is done leads unless it says."""
        raise NotImplementedError

    def crumbs(self) -> list[tuple[str, str]]:
        """(address, words) from the top."""
        return []

    def form_valid(self, form: forms.Form) -> HttpResponse:
        try:
            result = self.act(form.cleaned_data)
        except Refused as refusal:
            field = refusal.field if refusal.field in form.fields else None
            form.add_error(field, str(refusal))
            return self._again(form, refusal.status)
        if self.done:
            messages.success(self.request, self.done)
        return HttpResponseRedirect(self.where_next(result))

    def form_invalid(self, form: forms.Form) -> HttpResponse:
        return self._again(form, 400)

    def _again(self, form: forms.Form, status: int) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=status)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(
            heading=self.heading,
            lead=self.lead,
            submit=self.submit,
            danger=self.danger,
            crumbs=self.crumbs(),
            cancel=self.back_to(),
            **kwargs,
        )
