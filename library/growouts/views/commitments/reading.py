"""One commitment in full, and the photos that belong to it."""

from __future__ import annotations

from typing import Any

from django.db.models import Prefetch
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.generic import DetailView, View

from accounts.access import MemberPage
from accounts.roles import COORDINATE
from library.growouts.commitments.replacing import replacement_for
from library.growouts.commitments.standing import lent_for, told_of
from library.growouts.commitments.words import NUMBERS, sentence
from library.growouts.models import Commitment, Milestone, MilestonePhoto
from library.growouts.returned import returns_of
from library.photos.views import photo_response


class CommitmentPage(MemberPage, DetailView):
    """For the grower and coordinators: what was offered, what is to be done, what was told."""

    template_name = "growouts/commitments/commitment.html"
    context_object_name = "commitment"

    def get_queryset(self):
        return Commitment.objects.visible_to(self.request.user).with_details()

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        row, user = self.object, self.request.user
        today = timezone.localdate()
        coordinates = user.has_perm(COORDINATE)
        context: dict[str, Any] = {
            "mine": row.grower_id == user.pk,
            "coordinates": coordinates,
            "today": today,
            "steps": steps_of(row, today),
            "returns": returns_of([row])[row.pk],
            "loans": list(lent_for(row)),
            "replaced_by": row.replaced_by.select_related("grower").order_by("-pk").first(),
        }
        if row.is_offered or row.is_growing:
            context["told"] = told_of(row, on=today, links=context["loans"])
        if coordinates and row.state == Commitment.State.FAILED:
            context["replacement"] = replacement_for(row, on=today)
        return super().get_context_data(**context, **kwargs)


def steps_of(commitment: Commitment, today) -> list[dict[str, Any]]:
    """Each step with its reports, newest last, and whether it is late; four queries.

    What a later step passed over is not late: who harvests will not count seedlings.
    """
    photos = Prefetch("reports__photos", MilestonePhoto.objects.named())
    rows = list(commitment.milestones.prefetch_related("reports", photos).order_by("step"))
    told = max((row.step for row in rows if row.done_on), default=0)
    return [
        {
            "milestone": row,
            "label": row.get_kind_display(),
            "why": sentence(row.rule, row.inputs),
            "counts": NUMBERS[Milestone.Kind(row.kind)],
            "reports": list(row.reports.all()),
            "late": row.step > told and commitment.is_growing and row.due_on < today,
            "can_report": commitment.is_growing and row.kind != Milestone.Kind.RETURNED,
        }
        for row in rows
    ]


class PhotoFile(MemberPage, View):
    """A photo of a report, to its grower and to coordinators."""

    http_method_names = ["get", "head", "options"]

    def get(self, request: Any, identifier: Any) -> HttpResponse:
        links = MilestonePhoto.objects.visible_to(request.user).select_related("photo")
        link = get_object_or_404(links, photo__identifier=identifier)
        return photo_response(request, link.photo)
