"""A chain that another library sent: its file is brought in, looked at, and answered."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import cached_property
from django.utils.translation import gettext_lazy, ngettext
from django.views.generic import DetailView

from accounts.access import DeskPage
from library.errors import Refused
from library.exchange import services
from library.exchange.forms import ChainFileForm, ReceiveChainForm
from library.exchange.looking import ChainSeen, LotSeen
from library.exchange.models import ChainImport
from library.exchange.prov.reading import Unreadable
from library.lending.finding import borrower_named
from library.lending.views.base import ReceivingPage, VerbButton, VerbPage

SHOWN = 20
MOST_ROWS = 200


class ChainImportsPage(DeskPage, VerbPage):
    """Bring a file in; and those that wait, or were answered lately."""

    template_name = "exchange/chain_imports.html"
    form_class = ChainFileForm

    def act(self, form):
        file = form.cleaned_data["file"]
        try:
            chain_import, _seen = services.preview_chain(
                content=file.read(), file_name=file.name, by=self.asker, on=self.today
            )
        except Unreadable as refusal:
            self.problems = refusal.problems
            n = len(refusal.problems)
            sentence = ngettext(
                "The file cannot be taken in: a line of it is wrong.",
                "The file cannot be taken in: %(n)s lines of it are wrong.",
                n,
            )
            raise Refused(sentence % {"n": n}, field="file") from None
        return chain_import

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        rows = ChainImport.objects.visible_to(self.request.user).with_details()
        return super().get_context_data(
            waiting=rows.waiting()[:SHOWN],
            answered=rows.answered().order_by("-decided_at", "-pk")[:SHOWN],
            problems=getattr(self, "problems", []),
            **kwargs,
        )


class _OneChain(DeskPage):
    @cached_property
    def chain_import(self) -> ChainImport:
        rows = ChainImport.objects.visible_to(self.request.user)
        rows = rows.select_related("brought_by", "decided_by", "lot")
        return get_object_or_404(rows, pk=self.kwargs["pk"])

    def looked_at(self, on) -> dict[str, Any]:
        """The chain as it would be taken in today, or what is wrong with it by now."""
        try:
            seen = services.seen_now(self.chain_import, on=on)
        except Unreadable as refusal:
            return {"problems": refusal.problems}
        return {"seen": seen, "rows": _rows(seen), "more": max(0, len(seen.lots) - MOST_ROWS)}


def _rows(seen: ChainSeen) -> list[LotSeen]:
    """The head first, then what it came from."""
    return list(seen.lots.values())[::-1][:MOST_ROWS]


class ChainImportPage(_OneChain, DetailView):
    """What would become of each lot; after the answer, what became of it."""

    template_name = "exchange/chain_import.html"
    context_object_name = "chain_import"

    def get_object(self, queryset=None) -> ChainImport:
        return self.chain_import

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        context = super().get_context_data(**kwargs)
        if not self.chain_import.is_waiting:
            return context
        return context | self.looked_at(timezone.localdate())


class ChainReceivePage(_OneChain, ReceivingPage):
    """How much seed came with the chain."""

    template_name = "exchange/chain_receive.html"
    form_class = ReceiveChainForm

    def act(self, form):
        name = form.cleaned_data["depositor"]
        person = borrower_named(name, by=self.asker, field="depositor") if name else None
        return services.receive_chain(
            chain_import=self.chain_import,
            by=self.asker,
            on=self.today,
            depositor=person,
            **form.received(),
        )

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(
            chain_import=self.chain_import, **self.looked_at(self.today), **kwargs
        )


class ChainDrop(DeskPage, VerbButton):
    rows = ChainImport.objects
    done = gettext_lazy("Left. Nothing of it was written down.")

    def act(self, row):
        services.drop_chain(chain_import=row, by=self.asker)
        return reverse("chain-imports")
