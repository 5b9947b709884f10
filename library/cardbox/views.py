"""The card box's pages: bring a file in, correct its columns, decide, say yes, undo."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.generic import DetailView, ListView, View

from accounts.access import AdministratorPage, CoordinatorPage
from library.cardbox import services
from library.cardbox.examples import example_of, given_back
from library.cardbox.forms import ColumnsForm, FileForm
from library.cardbox.kinds import KINDS
from library.cardbox.models import CardImport, CardRow, Kind, NotedPerson
from library.cardbox.running import work_at_once
from library.errors import Refused
from library.lending.views.base import VerbButton, VerbPage
from library.stock.service_pages import number_asked

SHOWN = 20
ON_A_PAGE = 50
QUESTIONS_AT_ONCE = 20
Fate = CardRow.Fate
CSV = "text/csv; charset=utf-8"


class CardImportsPage(CoordinatorPage, VerbPage):
    """Bring a file in; and those of before."""

    template_name = "cardbox/imports.html"
    form_class = FileForm

    @property
    def kinds(self) -> list[str]:
        return [kind for kind in KINDS if services.may_bring(self.asker, kind)]

    def get_form_kwargs(self) -> dict[str, Any]:
        return {**super().get_form_kwargs(), "kinds": self.kinds}

    def act(self, form):
        file = form.cleaned_data["file"]
        try:
            card_import = services.bring_in(
                kind=form.cleaned_data["kind"],
                file_name=file.name,
                content=services.content_of(file),
                by=self.asker,
            )
        except services.Twice as twice:
            self.before = twice.before
            raise
        return f"{card_import.get_absolute_url()}columns/"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        rows = CardImport.objects.visible_to(self.asker).with_details()
        return super().get_context_data(
            imports=rows[:SHOWN],
            kinds=[(kind, KINDS[kind].title) for kind in self.kinds],
            before=getattr(self, "before", None),
            may_note=Kind.MEMBERS in self.kinds,
            **kwargs,
        )


class _OneImport(CoordinatorPage):
    @cached_property
    def card_import(self) -> CardImport:
        rows = CardImport.objects.visible_to(self.request.user).with_details()
        return get_object_or_404(rows, pk=self.kwargs["pk"])


class CardImportPage(_OneImport, DetailView):
    """What becomes of each row; while it is at work the page asks again by itself."""

    template_name = "cardbox/import.html"
    context_object_name = "card_import"

    def get_object(self, queryset=None) -> CardImport:
        return self.card_import

    def get(self, request: Any, *args: Any, **kwargs: Any) -> HttpResponse:
        response = super().get(request, *args, **kwargs)
        if request.htmx and not self.card_import.is_at_work:
            response["HX-Refresh"] = "true"  # what was asked for is another page by now
        return response

    def get_template_names(self) -> list[str]:
        if self.request.htmx and self.card_import.is_at_work:
            return ["cardbox/progress.html"]
        return [self.template_name]

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        card = self.card_import
        fates = card.rows.by_fate()
        shown = self.request.GET.get("fate", "")
        shown = shown if shown in fates else ""
        rows = card.rows.filter(fate=shown) if shown else card.rows.all()
        pages = Paginator(rows.order_by("number"), ON_A_PAGE)
        pages.count = fates[shown] if shown else sum(fates.values())
        page = pages.get_page(self.request.GET.get("page"))
        vars(page)["numbers"] = pages.get_elided_page_range(page.number)
        return super().get_context_data(
            fates=[(fate, Fate(fate).label, fates[fate]) for fate in Fate if fate in fates],
            shown=shown,
            page_obj=page,
            new=fates.get(Fate.NEW, 0),
            not_taken=sum(fates.get(fate, 0) for fate in ("wrong", "refused", "kept")),
            **self._questions(),
            **progress_of(card, fates),
            **kwargs,
        )

    def _questions(self) -> dict[str, Any]:
        questions = self.card_import.questions
        return {
            "questions": questions.filter(answer="")[:QUESTIONS_AT_ONCE],
            "open_questions": questions.filter(answer="").count(),
            "answered": questions.exclude(answer="")[:QUESTIONS_AT_ONCE],
        }


def progress_of(card: CardImport, fates: dict[str, int]) -> dict[str, Any]:
    """How many rows of how many the work under way has done."""
    total = sum(fates.values())
    match card.state:
        case CardImport.State.LOOKING:
            # Every row is read, then judged.
            done = total + total - fates.get(Fate.UNSEEN, 0)
            total = 2 * max(total, card.rows_in_file)
        case CardImport.State.UNDOING:
            done = fates.get(Fate.UNDONE, 0) + fates.get(Fate.KEPT, 0)
            total = done + fates.get(Fate.WRITTEN, 0)
        case _:
            done = fates.get(Fate.WRITTEN, 0) + fates.get(Fate.REFUSED, 0)
            total = done + fates.get(Fate.NEW, 0)
    return {"done": done, "total": total, "percent": 100 * done // max(total, 1)}


class ColumnsPage(_OneImport, VerbPage):
    """Each column with its first values, and what it is taken for."""

    template_name = "cardbox/columns.html"
    form_class = ColumnsForm

    @cached_property
    def card_import(self) -> CardImport:
        rows = CardImport.objects.visible_to(self.request.user).defer("content")
        return get_object_or_404(rows, pk=self.kwargs["pk"])

    def get(self, request: Any, *args: Any, **kwargs: Any) -> HttpResponse:
        if self.card_import.state not in ("columns", "ready"):
            return redirect(self.card_import)
        return super().get(request, *args, **kwargs)

    def get_form_kwargs(self) -> dict[str, Any]:
        return {**super().get_form_kwargs(), "card_import": self.card_import}

    def act(self, form):
        card = services.choose_columns(
            card_import=self.card_import, by=self.asker, **form.said()
        )
        work_at_once(card)
        return card

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(
            card_import=self.card_import,
            known=self.card_import.columns.get("known"),
            **kwargs,
        )


class AnswersButton(_OneImport, View):
    """Answers to the questions of a page, those that were chosen."""

    http_method_names = ["post"]

    def post(self, request: Any, pk: int) -> HttpResponse:
        answers = {}
        for name, value in request.POST.items():
            key = number_asked(name.removeprefix("q_")) if name.startswith("q_") else None
            if key is not None and value:
                answers[key] = value
        try:
            if not answers:
                raise Refused(_("Choose an answer first."))
            card = services.answer_questions(
                card_import=self.card_import, answers=answers, by=request.user
            )
            work_at_once(card)
        except Refused as refusal:
            messages.error(request, str(refusal))
        return redirect(self.card_import)


class _Button(CoordinatorPage, VerbButton):
    rows = CardImport.objects


class ConfirmButton(_Button):
    def act(self, row):
        card = services.confirm(card_import=row, by=self.asker, on=self.today)
        work_at_once(card)
        card.refresh_from_db(fields=["state"])
        written = card.state == CardImport.State.WRITTEN
        self.done = _("Written.") if written else _("The rows are being written.")
        return card


class StopButton(_Button):
    done = gettext_lazy("Stopped.")

    def act(self, row):
        return services.stop(card_import=row, by=self.asker)


class UndoButton(_Button):
    def act(self, row):
        card = services.undo(card_import=row, by=self.asker, on=self.today)
        work_at_once(card)
        card.refresh_from_db(fields=["state"])
        undone = card.state == CardImport.State.UNDONE
        self.done = _("Undone.") if undone else _("The import is being undone.")
        return card


class GivenBackFile(_OneImport):
    """The rows that were not taken, to be mended and sent again."""

    def get(self, request: Any, pk: int) -> HttpResponseBase:
        name = f"not-taken-{self.card_import.pk}.csv"
        if request.method == "HEAD":
            return _file(HttpResponse(content_type=CSV), name)
        parts = (part.encode() for part in given_back(self.card_import))
        return _file(StreamingHttpResponse(parts, content_type=CSV), name)


class ExampleFile(CoordinatorPage):
    def get(self, request: Any, kind: str) -> HttpResponseBase:
        if kind not in KINDS or not services.may_bring(request.user, kind):
            raise Http404
        return _file(HttpResponse(example_of(kind), content_type=CSV), f"example-{kind}.csv")


def _file(answer: HttpResponseBase, name: str) -> HttpResponseBase:
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    answer["Cache-Control"] = "no-store"
    return answer


class NotedPage(AdministratorPage, ListView):
    """People of old card boxes who have no account."""

    template_name = "cardbox/noted.html"
    context_object_name = "people"
    paginate_by = ON_A_PAGE
    queryset = NotedPerson.objects.order_by("folded", "pk")

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        context = super().get_context_data(**kwargs)
        page = context["page_obj"]
        vars(page)["numbers"] = page.paginator.get_elided_page_range(page.number)
        return context


class ForgetButton(AdministratorPage, View):
    http_method_names = ["post"]

    def post(self, request: Any, pk: int) -> HttpResponse:
        person = get_object_or_404(NotedPerson, pk=pk)
        services.forget_noted(person=person, by=request.user)
        messages.success(request, _("Forgotten."))
        return redirect("card-noted")
