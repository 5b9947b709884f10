"""The pages of what could be lost."""

from __future__ import annotations

from typing import Any, cast

from django.core.paginator import Paginator
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import cached_property
from django.utils.translation import gettext_lazy as _
from django.views.generic import TemplateView

from accounts.access import CoordinatorPage, MemberPage
from accounts.models import Member
from accounts.roles import BORROW, COORDINATE
from library.catalogue.browsing import options
from library.catalogue.models import Crop, Variety
from library.growouts.forms.risk import ElsewhereForm, GrowOutRulesForm
from library.growouts.models import Elsewhere, GrowOutRules
from library.growouts.risk import at_risk
from library.growouts.risk.asking import SORTS, RiskFilter
from library.growouts.risk.bars import chart_of, key
from library.growouts.risk.reading import of_concern
from library.growouts.risk.testing import with_tests
from library.growouts.risk.words import (
    LotTold,
    assumptions,
    elsewhere_words,
    told,
    years,
)
from library.growouts.services.risk import change_growout_rules, record_elsewhere
from library.hooks import Panel, register_panel
from library.lending.views.base import VerbPage

PER_PAGE = 25
TOLD_BEFORE = 30


def reader_of(request: HttpRequest) -> Member:
    """Who reads: an approved member, as the page has made sure."""
    return cast(Member, request.user)


class RiskPage(MemberPage, TemplateView):
    """Every variety that could be lost, the likeliest first, with what makes its chance."""

    template_name = "growouts/risk/list.html"

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        today = timezone.localdate()
        asked = RiskFilter(request.GET, queryset=of_concern(today), request=request)
        wrong = [str(said) for errors in asked.errors.values() for said in errors]
        found = [] if wrong else asked.ranked(on=today)
        page: Any = Paginator(found, PER_PAGE).get_page(request.GET.get("page"))
        page.numbers = page.paginator.get_elided_page_range(page.number)
        rows = [
            told(one, reader=reader_of(request), rank=rank)
            for rank, one in enumerate(
                with_tests(page.object_list, on=today), page.start_index()
            )
        ]
        rules = GrowOutRules.current()
        ahead = rules.horizon_years if wrong else asked.form.cleaned_data["years"] or 0
        context = self.get_context_data(
            page_obj=page,
            rows=rows,
            chart=chart_of(rows),
            key=key(),
            wrong=wrong,
            found=len(found),
            expected=sum(one.lost for one in found if one.can_be_regrown),
            years=ahead or rules.horizon_years,
            years_words=years(ahead or rules.horizon_years),
            assumptions=assumptions(found[0]) if found else [],
            asked=request.GET,
            crop_options=options(Crop.objects.choices(), request.GET.get("crop", "")),
            sort_options=options(SORTS, request.GET.get("sort", "chance")),
            coordinates=request.user.has_perm(COORDINATE),
            **kwargs,
        )
        return self.render_to_response(context, status=400 if wrong else 200)


class AboutAVariety(MemberPage):
    """A page about one variety's risk."""

    @cached_property
    def variety(self) -> Variety:
        rows = Variety.objects.select_related("crop__species")
        return get_object_or_404(rows, pk=self.kwargs["pk"])


class RiskVarietyPage(AboutAVariety, TemplateView):
    """One variety: everything that went into its chance, and what would help most."""

    template_name = "growouts/risk/variety.html"

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        today, variety = timezone.localdate(), self.variety
        asked = RiskFilter(request.GET, queryset=Variety.objects.none(), request=request)
        wrong = [str(said) for said in asked.errors.get("years", [])]
        ahead = None if wrong else asked.form.cleaned_data.get("years")
        found = with_tests(at_risk(on=today, varieties=[variety], years=ahead), on=today)
        one = told(found[0], reader=reader_of(request))
        records = Elsewhere.objects.filter(variety=variety).select_related("recorded_by")
        context = self.get_context_data(
            one=one,
            risk=one.risk,
            variety=variety,
            chart=chart_of([one]),
            key=key(),
            wrong=wrong,
            years=one.risk.years,
            years_words=years(one.risk.years),
            lots=[LotTold(lot, who.name) for who in one.keepers for lot in who.lots],
            assumptions=assumptions(one.risk),
            elsewhere_words=elsewhere_words(one.risk.elsewhere, one.risk.situation.elsewhere),
            records=list(records.newest_first()[:TOLD_BEFORE]),
            coordinates=request.user.has_perm(COORDINATE),
            **kwargs,
        )
        return self.render_to_response(context, status=400 if wrong else 200)


class ElsewherePage(AboutAVariety, VerbPage):
    """A member says whether a variety can still be had outside."""

    template_name = "growouts/risk/elsewhere.html"
    form_class = ElsewhereForm
    done = _("Written down. The newest word counts.")

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(variety=self.variety, **kwargs)

    def act(self, form: Form) -> str:
        record_elsewhere(
            variety=self.variety, on=self.today, by=self.asker, **form.cleaned_data
        )
        return reverse("growout-risk-variety", args=[self.variety.pk])


class GrowOutRulesPage(CoordinatorPage, VerbPage):
    """How the library looks ahead, and what it expects of a grow-out."""

    template_name = "growouts/risk/rules.html"
    form_class = GrowOutRulesForm
    done = _("The rules are kept. Plans that were made stay as they are.")

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"instance": GrowOutRules.current()}

    def act(self, form: Form) -> str:
        change_growout_rules(by=self.asker, **form.cleaned_data)
        return reverse("growout-rules")


def register_panels() -> None:
    register_panel("variety", Panel("growouts/risk/panel.html", variety_panel, order=40))


def variety_panel(request: HttpRequest, variety: Variety) -> dict[str, Any] | None:
    """The variety's chance of loss, for members, with all that made it."""
    if not request.user.has_perm(BORROW):
        return None
    (found,) = at_risk(on=timezone.localdate(), varieties=[variety])
    one = told(found, reader=reader_of(request))
    return {"one": one, "variety": variety, "years_words": years(found.years)}
