"""The pages of the bench's calendar and of the living seed."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.generic import TemplateView

from accounts.access import CataloguePage, CoordinatorPage
from accounts.roles import COORDINATE
from library.catalogue.browsing import options
from library.catalogue.models import Crop
from library.errors import Refused
from library.germination.method import suggested_size
from library.germination.pictures.calendar import calendar, due_in
from library.germination.pictures.living import living_seed

MOST_IN_A_MONTH = 200


class CalendarPage(CoordinatorPage, TemplateView):
    """The tests of the year ahead by month; the lots of one month on request."""

    template_name = "germination/pictures/calendar.html"

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        today, key = timezone.localdate(), request.GET.get("month", "")
        shown: dict[str, Any] = {"calendar": calendar(today), "chosen": key}
        status = 200
        if key:
            try:
                dates = due_in(key, today=today)
                shown["rows"] = _rows(dates[: MOST_IN_A_MONTH + 1])
            except Refused as refusal:
                shown["wrong"], status = str(refusal), 400
        context = self.get_context_data(**kwargs, **shown, most=MOST_IN_A_MONTH)
        return self.render_to_response(context, status=status)


def _rows(dates: Any) -> list[dict[str, Any]]:
    return [{"date": d, "lot": d.lot, "size": suggested_size(d.lot)} for d in dates]


class LivingSeedPage(CataloguePage, TemplateView):
    """The collection's living seed by crop and harvest year."""

    template_name = "germination/pictures/living.html"

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        crop, rare = request.GET.get("crop", ""), request.GET.get("rare") in ("true", "on", "1")
        crops = Crop.objects.choices()
        unknown = bool(crop) and crop not in dict(crops)
        context = self.get_context_data(
            table=None if unknown else living_seed(crop=crop, rare=rare),
            crop_options=options(crops, crop),
            crop=crop,
            rare=rare,
            unknown_crop=unknown,
            coordinates=request.user.has_perm(COORDINATE),
            **kwargs,
        )
        return self.render_to_response(context, status=400 if unknown else 200)
