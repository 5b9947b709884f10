"""The picture of a chain on a page of its own."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.generic import TemplateView

from accounts.access import CataloguePage
from accounts.roles import COORDINATE
from library.provenance.chain import Chain, chain_down, chain_up
from library.provenance.measuring import measure
from library.provenance.picture import picture_of
from library.provenance.picture.reading import USUAL_GENERATIONS
from library.provenance.purity import judge
from library.provenance.warnings import warnings_in
from library.science.chains import MOST_LOTS
from library.stock.models import Lot

MOST_OPENED = 60
FAR = 6
ALL, DOWN = "all", "down"


class ChainPicturePage(CataloguePage, TemplateView):
    """``?generations=`` a number or ``all``, ``?open=`` lots behind which more is shown, and
    ``?towards=down`` for what was made of the lot. What cannot be read is left out.
    """

    template_name = "provenance/picture/page.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        visible = Lot.objects.visible_to(self.request.user).with_variety()
        lot = get_object_or_404(visible, number=kwargs["number"])
        down = self.request.GET.get("towards") == DOWN
        chain = chain_down(lot) if down else chain_up(lot)
        generations, opened = self._generations(), self._opened(chain)
        asked = [("towards", DOWN)] if down else []
        asked += [("generations", str(generations))] if generations else []
        picture = picture_of(
            chain,
            purity=judge(chain, for_coordinator=self.request.user.has_perm(COORDINATE)),
            measures=None if down or len(chain.lots) > MOST_LOTS else measure(chain),
            warned=warnings_in(chain),
            generations=generations,
            opened=[pk for pk, _number in opened],
            address=reverse("lot-chain-picture", args=[lot.number]),
            asked=[*asked, *(("open", number) for _pk, number in opened)],
        )
        choices = self._choices(generations, down)
        return super().get_context_data(
            lot=lot, picture=picture, down=down, choices=choices, **kwargs
        )

    def _generations(self) -> int | None:
        told = self.request.GET.get("generations", "")
        if told == ALL:
            return None
        is_number = told.isascii() and told.isdigit() and len(told) < 4
        return min(max(int(told), 1), 100) if is_number else USUAL_GENERATIONS

    def _opened(self, chain: Chain) -> list[tuple[int, str]]:
        asked = set(self.request.GET.getlist("open")[:MOST_OPENED])
        return [(lot.pk, lot.number) for lot in chain.order if lot.number in asked]

    def _choices(self, generations: int | None, down: bool) -> list[dict[str, Any]]:
        near = {"generations": str(USUAL_GENERATIONS)}
        far, every = {"generations": str(FAR)}, {"generations": ALL}
        way = {"towards": DOWN} if down else {}
        links = _("%(n)s steps")
        rows = [
            (links % {"n": USUAL_GENERATIONS}, way | near, generations == USUAL_GENERATIONS),
            (links % {"n": FAR}, way | far, generations == FAR),
            (_("all of it"), way | every, generations is None),
            (_("What it came from"), near, False) if down
            else (_("What was made of it"), {"towards": DOWN} | near, False),
        ]  # fmt: skip
        return [
            {"label": label, "href": f"?{urlencode(query)}", "current": current}
            for label, query, current in rows
        ]
