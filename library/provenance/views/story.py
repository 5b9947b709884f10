"""The page that tells where a lot came from, to be read from top to bottom."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.generic import TemplateView

from accounts.access import CataloguePage
from accounts.roles import COORDINATE, SERVE_DESK
from library.provenance.chain import chain_down, chain_up
from library.provenance.figures import percent
from library.provenance.measuring import measure
from library.provenance.picture import picture_of
from library.provenance.purity import Grade, cautions_about, judge
from library.provenance.story import chapters, holders, in_order, overview
from library.provenance.warnings import warnings_in, warnings_of
from library.science.chains import MOST_LOTS
from library.stock.models import Lot

LOTS_ON_A_PAGE = 40
HOLDERS_SHOWN = 30


class ChainStoryPage(CataloguePage, TemplateView):
    template_name = "provenance/story.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        user = self.request.user
        visible = Lot.objects.visible_to(user).with_variety().with_people()
        lot = get_object_or_404(
            visible.select_related("growing", "foreign"), number=kwargs["number"]
        )
        up, down = chain_up(lot), chain_down(lot)
        purity = judge(up, for_coordinator=user.has_perm(COORDINATE))
        desk = user.has_perm(SERVE_DESK)
        told = Paginator(in_order(up), LOTS_ON_A_PAGE)
        page = told.get_page(self.request.GET.get("page"))
        holding, warnings = holders(up, down), warnings_of(lot)
        carried = warnings_in(up)
        measures = measure(up) if len(up.lots) <= MOST_LOTS else None
        return super().get_context_data(
            lot=lot,
            today=timezone.localdate(),
            overview=overview(up),
            picture=picture_of(
                up,
                purity=purity,
                measures=measures,
                warned=carried,
                address=reverse("lot-chain-picture", args=[lot.number]),
            ),
            page_obj=page,
            chapters=chapters(up, list(page), purity=purity, carried=carried, for_desk=desk),
            purity=purity,
            is_weak=purity.grade is Grade.WEAK,
            warnings=warnings,
            cautions=cautions_about([lot] if warnings or purity.weak else []),
            measures=measures,
            kept=percent(measures.diversity.kept) if measures else "",
            holding=holding[:HOLDERS_SHOWN],
            holding_left_out=max(0, len(holding) - HOLDERS_SHOWN),
            descendants=len(down.lots) - 1,
            desk=desk,
            **kwargs,
        )
