"""The swap table: one page for a phone. Without a script it is an ordinary form."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from django.conf import settings
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.templatetags.static import static
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from accounts.access import DeskPage
from library.errors import Refused
from library.lending import services
from library.lending.finding import borrower_named, packet_scanned
from library.lending.forms.table import BACK, SEED, TableForm
from library.lending.models import LoanEvent
from library.lending.views.base import VerbPage
from library.stock.models import Packet

SHOWN = 12
STYLES = (
    "tokens base layout band components tables forms notices pictures modes".split()  # noqa: SIM905
)
# What the page needs to open and to work without reception.
ASSETS = [
    *(f"sowback/css/{name}.css" for name in STYLES),
    "sowback/icons.svg",
    "sowback/mark.svg",
    "sowback/js/app.js",
    "django_htmx/htmx-2.min.js",
    "lending/table/table.css",
    "lending/table/table.js",
    "lending/table/codes.js",
    "lending/table/store.js",
    "lending/table/sending.js",
    "lending/table/list.js",
]
# Kept only once the camera was opened.
CAMERA = ["lending/table/camera.js", "lending/table/vendor/jsQR.js"]


class TablePage(DeskPage, VerbPage):
    """Lend and take back, packet after packet."""

    template_name = "lending/table.html"
    form_class = TableForm

    def get_initial(self) -> dict:
        asked = self.request.GET
        return {"do": asked.get("do") or "lend", "who": asked.get("who", "")}

    def get_context_data(self, **kwargs) -> dict:
        rows: Any = LoanEvent.objects
        events = rows.at_desk(by=self.asker, on=self.today)
        return super().get_context_data(
            counted=events.counted(),
            done=events.with_loans().order_by("-pk")[:SHOWN],
            **kwargs,
        )

    def act(self, form) -> str:
        told = form.cleaned_data
        packet = packet_scanned(told["code"])
        if told["do"] == SEED:
            return seed_address(packet)
        self.what = {"code": packet.code, "variety": packet.lot.variety.name}
        if told["do"] == BACK:
            services.take_back_at_table(packet=packet, on=self.today, by=self.asker)
        else:
            if not told["who"].strip():
                raise Refused(_("Say first who borrows it."), field="who")
            borrower = borrower_named(told["who"], by=self.asker, field="who")
            services.lend_at_table(
                packet=packet, borrower=borrower, on=self.today, by=self.asker
            )
            self.what["name"] = borrower.display_name
        again = {"do": told["do"]} | ({"who": told["who"]} if told["who"] else {})
        return f"{reverse('table')}?{urlencode(again)}"

    def said(self, form, target: str) -> str:
        if form.cleaned_data["do"] == SEED:
            return ""
        if form.cleaned_data["do"] == BACK:
            return _("%(variety)s, %(code)s, is back on the shelf.") % self.what
        return _("Lent %(variety)s, %(code)s, to %(name)s.") % self.what


class SeedAtTable(DeskPage):
    """From a packet's code to the form that receives its seed, the loan filled in."""

    def get(self, request: HttpRequest) -> HttpResponse:
        packet = packet_scanned(request.GET.get("code", ""))
        return redirect(seed_address(packet))


def seed_address(packet: Packet) -> str:
    return f"{reverse('return-at-desk')}?loan={services.open_loan_of(packet).pk}"


@never_cache
@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker that opens the table without reception, and nothing else.

    It holds no secret, so it is there for everybody: a browser renews it when it likes.
    """
    told = {
        "version": version_of_assets(),
        "assets": [static(name) for name in ASSETS],
        "camera": [static(name) for name in CAMERA],
        "page": reverse("table"),
    }
    answer = render(request, "lending/table_worker.js", told)
    answer["Content-Type"] = "text/javascript; charset=utf-8"
    return answer


def version_of_assets() -> str:
    """A digest of what the assets hold: another version is another cache."""
    return _digest() if not settings.DEBUG else _digest.__wrapped__()


@lru_cache(maxsize=1)
def _digest() -> str:
    digest = hashlib.sha256()
    for name in [*ASSETS, *CAMERA]:
        found = finders.find(name)
        if found is None:
            raise FileNotFoundError(name)
        digest.update(Path(str(found)).read_bytes())
    return digest.hexdigest()[:16]
