"""Paper at its own address, the page where it is chosen, jobs, and the sheets of labels."""

from __future__ import annotations

from functools import partial
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Q
from django.forms import Form
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.generic import DetailView, ListView, TemplateView, View

from accounts.access import DeskPage, MemberPage, MemberRequest, Page
from accounts.taking_away import PutBackPage, take_away
from library.catalogue.models import Variety
from library.catalogue.names import fold
from library.errors import Refused
from library.kept import as_kept
from library.paper import services
from library.paper.asking import may_print
from library.paper.forms import PrintForm, SheetForm
from library.paper.models import Kind, LabelSheet, PrintJob
from library.stock.models import Lot
from library.stock.service_pages import ServicePage

ON_A_PAGE = 40
SHOWN_JOBS = 10


def pdf(content: Any, name: str) -> HttpResponse:
    """A PDF that the browser shows; saved, it has that name."""
    answer = HttpResponse(bytes(content), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}"'
    answer["Cache-Control"] = "no-store"
    return answer


class PaperFile(Page):
    """``?key=…&key=…`` and how: the document itself, if it is little."""

    http_method_names = ["get", "head", "options"]
    kind = ""

    def get(self, request: HttpRequest) -> HttpResponseBase:
        if not may_print(request.user, self.kind):
            if request.user.is_authenticated:
                raise Http404
            return self.handle_no_permission()
        form = PrintForm(request.GET)
        keys = request.GET.getlist("key")
        if not form.is_valid():
            return self._refused(request, _("That cannot be printed so."))
        try:
            given = services.prepared(
                kind=self.kind,
                keys=keys,
                by=request.user,
                on=timezone.localdate(),
                **form.options,
            )
            content = services.print_now(given, by=request.user)
        except Refused as refusal:
            return self._refused(request, str(refusal))
        return pdf(content, f"{self.kind}-{timezone.localdate()}.pdf")

    def _refused(self, request: HttpRequest, sentence: str) -> HttpResponse:
        """To where it can be asked for otherwise, or a plain page that says why not."""
        if not may_print(request.user, Kind.LABELS):
            return self._plain(request, sentence)
        messages.error(request, sentence)
        codes = [key for key in request.GET.getlist("key") if not key.isdigit()][:200]
        query = urlencode({"codes": "\n".join(codes)})
        return redirect(f"{reverse('printing')}?{query}")

    def _plain(self, request: HttpRequest, sentence: str) -> HttpResponse:
        return render(request, "paper/refused.html", {"sentence": sentence}, status=400)


class PrintingPage(DeskPage, TemplateView):
    """Choose packets, lots or varieties, and what to print of them."""

    template_name = "paper/printing.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        asked = self.request.GET
        which = "varieties" if asked.get("of") == "varieties" else "lots"
        # No name holds U+0000, and PostgreSQL breaks when asked for one.
        sought = asked.get("q", "").replace("\x00", "\N{REPLACEMENT CHARACTER}")
        rows = _varieties(sought) if which == "varieties" else _lots(sought)
        page = Paginator(rows, ON_A_PAGE).get_page(asked.get("page"))
        kwargs.setdefault("form", PrintForm(initial=self._begin()))
        return super().get_context_data(
            of=which,
            q=sought,
            page_obj=page,
            jobs=PrintJob.objects.visible_to(self.request.user).without_file()[:SHOWN_JOBS],
            sheets=LabelSheet.objects.count(),
            **kwargs,
        )

    def _begin(self) -> dict[str, Any]:
        sheet = LabelSheet.objects.first_choice()
        codes = self.request.GET.get("codes", "")[:20_000]
        return {"codes": codes, "sheet": sheet and sheet.pk, "start": 1}

    def post(self, request: MemberRequest) -> HttpResponseBase:
        form = PrintForm(request.POST)
        if not form.is_valid():
            return self._again(form, 400)
        kind = request.POST.get("kind", "")
        if kind not in (Kind.LABELS, Kind.CARDS):
            form.add_error(None, _("Say what to print: labels or cards."))
            return self._again(form, 400)
        keys = [*form.keys, *request.POST.getlist("key")]
        try:
            given = services.prepared(
                kind=kind, keys=keys, by=request.user, on=timezone.localdate(), **form.options
            )
            if services.is_little(given):
                content = services.print_now(given, by=request.user)
                return pdf(content, f"{kind}-{timezone.localdate()}.pdf")
            return redirect(services.ask_print(given, by=request.user))
        except Http404:
            form.add_error("codes", _("Nothing here carries one of these codes."))
            return self._again(form, 404)
        except Refused as refusal:
            form.add_error(
                refusal.field if refusal.field in form.fields else None, str(refusal)
            )
            return self._again(form, refusal.status)

    def _again(self, form: Form, status: int) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=status)


def _lots(words: str) -> Any:
    rows = Lot.objects.kept_here().with_seed().with_variety()
    rows = rows.annotate(shelf=Count("packets", filter=Q(packets__state="on_shelf")))
    if words.strip():
        name = Q(variety__folded_name__contains=fold(words))
        rows = rows.filter(name | Q(number__icontains=words.strip()[:20]))
    return rows.order_by("-received_on", "-pk")


def _varieties(words: str) -> Any:
    rows = Variety.objects.with_crop()
    if words.strip():
        rows = rows.filter(folded_name__contains=fold(words))
    return rows.order_by("folded_name", "pk")


class PrintJobPage(MemberPage, DetailView):
    """While it is made the page asks again by itself; then it has the file."""

    template_name = "paper/job.html"
    context_object_name = "job"
    slug_field = slug_url_kwarg = "identifier"

    def get_queryset(self) -> Any:
        return PrintJob.objects.visible_to(self.request.user).without_file()

    def get(self, request: Any, *args: Any, **kwargs: Any) -> HttpResponse:
        response = super().get(request, *args, **kwargs)
        if request.htmx and not self.object.is_at_work:
            response["HX-Refresh"] = "true"
        return response

    def get_template_names(self) -> list[str]:
        if self.request.htmx and self.object.is_at_work:
            return ["paper/progress.html"]
        return [self.template_name]


class _OfJob(MemberPage):
    @cached_property
    def job(self) -> PrintJob:
        rows = PrintJob.objects.visible_to(self.request.user)
        return get_object_or_404(rows, identifier=self.kwargs["identifier"])


class PrintJobFile(_OfJob):
    http_method_names = ["get", "head", "options"]

    def get(self, request: HttpRequest, identifier: Any) -> HttpResponse:
        if self.job.content is None:
            raise Http404
        return pdf(self.job.content, self.job.file_name)


class StopPrintJob(_OfJob, View):
    http_method_names = ["post"]

    def post(self, request: MemberRequest, identifier: Any) -> HttpResponse:
        try:
            services.stop_print(job=self.job, by=request.user)
            messages.success(request, _("Stopping. Nothing of it is kept."))
        except Refused as refusal:
            messages.error(request, str(refusal))
        return redirect(self.job)


class SheetsPage(DeskPage, ListView):
    template_name = "paper/sheets.html"
    model = LabelSheet
    context_object_name = "sheets"


class SheetAddPage(DeskPage, ServicePage):
    form_class = SheetForm
    heading: Any = gettext_lazy("Describe a sheet or roll of labels")
    lead: Any = gettext_lazy("Measure it with a ruler, in millimetres.")

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"instance": self.sheet}

    @property
    def sheet(self) -> LabelSheet | None:
        return None

    def act(self, asked: dict[str, Any]) -> LabelSheet:
        return services.save_sheet(by=self.request.user, sheet=self.sheet, **asked)

    def back_to(self) -> str:
        return reverse("label-sheets")

    def crumbs(self) -> list[tuple[str, str]]:
        return [(reverse("printing"), _("Print")), (reverse("label-sheets"), _("Label sheets"))]


class SheetEditPage(SheetAddPage):
    heading = gettext_lazy("Change the sheet")

    @cached_property
    def sheet(self) -> LabelSheet:
        return get_object_or_404(LabelSheet, pk=self.kwargs["pk"])


class SheetRemove(DeskPage, View):
    http_method_names = ["post"]

    def post(self, request: MemberRequest, pk: int) -> HttpResponse:
        sheet = get_object_or_404(LabelSheet, pk=pk)
        take_away(
            request,
            kept=as_kept([sheet]),
            remove=partial(services.remove_sheet, sheet=sheet, by=request.user),
            told=_("“%(name)s” is removed.") % {"name": sheet.name},
            undo=reverse("label-sheet-put-back"),
        )
        return redirect("label-sheets")


class SheetPutBack(DeskPage, PutBackPage):
    def put_back(self, kept: str) -> str:
        services.put_sheet_back(kept=kept, by=self.request.user)
        return self.nowhere()

    def nowhere(self) -> str:
        return reverse("label-sheets")
