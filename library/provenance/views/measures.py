"""What a chain kept, in numbers."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.generic import TemplateView

from accounts.access import CataloguePage
from library.provenance.asking import LineForm, reached
from library.provenance.chain import chain_up
from library.provenance.figures import brief_percent, percent, rounded
from library.provenance.generations import generations_of, grow_outs_of
from library.provenance.line import LineProgress
from library.provenance.measuring import AlleleRow, measure
from library.science.alleles import SOURCE as ALLELES_SOURCE
from library.stock.models import Lot

MOST_SHOWN = 200
WHOLE = 1 - 1e-9
LEAST_COURSE, LONGEST_COURSE = 8, 16


class ChainMeasuresPage(CataloguePage, TemplateView):
    template_name = "provenance/measures.html"

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        visible = Lot.objects.visible_to(request.user)
        lot = get_object_or_404(visible.with_variety(), number=kwargs["number"])
        measures = measure(chain_up(lot))
        asked = LineForm(request.GET) if request.GET else LineForm()
        is_wrong = asked.is_bound and not asked.is_valid()
        generations, grown = generations_of(measures), grow_outs_of(measures)
        context = self.get_context_data(
            lot=lot,
            found=measures,
            narrowest_is_assumed=measures.narrowest and measures.is_assumed(measures.narrowest),
            generations=generations,
            several=any(len(generation.grow_outs) > 1 for generation in generations),
            this_kept=percent(measures.diversity.kept),
            this_bar=round(100 * measures.diversity.kept, 2),
            figures=[one for one in measures.measures if one.number is not None],
            anything_lost=bool(grown) or measures.diversity.kept < WHOLE,
            grow_outs=grown[:MOST_SHOWN],
            left_out=max(0, len(grown) - MOST_SHOWN),
            bottlenecks=[one for one in grown if one.is_bottleneck][:MOST_SHOWN],
            alleles=[_in_words(row) for row in measures.alleles],
            alleles_source=ALLELES_SOURCE,
            **_line(measures.line, asked),
        )
        return self.render_to_response(context, status=400 if is_wrong else 200)


def _line(line: LineProgress | None, form: LineForm) -> dict[str, Any]:
    if line is None:
        return {}
    asked = form.cleaned_data if form.is_bound and form.is_valid() else {}
    genes = asked.get("genes") or 1
    until = min(LONGEST_COURSE, max(LEAST_COURSE, line.generation))
    return {
        "line": line,
        "line_form": form,
        "levels": reached(line, level=asked.get("level"), genes=genes),
        "course": [(n, percent(left), round(100 * left, 2)) for n, left in line.course(until)],
        "varies": percent(line.heterozygosity),
        "at_last": percent(line.at_last),
        "genes": genes,
        "fixed": percent(line.homozygosity(genes)),
    }


def _in_words(row: AlleleRow) -> tuple[str, str, str]:
    """The frequency, the share that was kept, and its standard error in percentage points."""
    error = rounded(100 * row.standard_error, 1)
    return brief_percent(row.frequency), percent(row.kept), error
