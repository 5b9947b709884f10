"""Commitments over the API: one's own, for coordinators everybody's."""

from __future__ import annotations

from typing import Any, cast

from django.db.models import Prefetch
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers, viewsets
from rest_framework.decorators import action
from rest_framework.exceptions import ValidationError
from rest_framework.generics import GenericAPIView
from rest_framework.parsers import FormParser, JSONParser, MultiPartParser
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.access import IsMember
from accounts.idempotency import KEY_PARAMETER, IdempotentMixin
from accounts.models import Member
from library.growouts.commitments.replacing import replacement_for
from library.growouts.filters import CommitmentFilter
from library.growouts.models import Commitment, MilestonePhoto
from library.growouts.serializers.commitments import (
    CommitmentOut,
    DeclineIn,
    FailIn,
    GrowOutGuidanceOut,
    NoteIn,
    OfferIn,
    ReasonIn,
    ReplaceIn,
    ReplacementOut,
    StepReportIn,
)
from library.growouts.services import commitments as services
from library.growouts.services.milestones import report_milestone
from library.lending.models import ReturnedLoan
from library.photos.views import photo_response


class CommitmentViewSet(
    IdempotentMixin,
    mixins.ListModelMixin,
    mixins.RetrieveModelMixin,
    viewsets.GenericViewSet,
):
    """What growers were asked and promised, with each step and what was reported of it."""

    permission_classes = [IsMember]
    serializer_class = CommitmentOut
    filterset_class = CommitmentFilter
    queryset = Commitment.objects.none()
    http_method_names = ["get", "post", "head", "options"]
    lookup_value_regex = "[0-9]+"

    @property
    def asker(self) -> Member:
        return cast(Member, self.request.user)

    def get_queryset(self):
        rows = Commitment.objects.visible_to(self.asker).with_details()
        photos = Prefetch("milestones__reports__photos", MilestonePhoto.objects.named())
        returned = Prefetch(
            "lent__loan__return_links", ReturnedLoan.objects.select_related("seed_return__lot")
        )
        rows = rows.prefetch_related(
            "milestones__reports", photos, "lent__loan__packet", returned
        )
        return rows.order_by("-pk")

    def filter_queryset(self, queryset):
        return super().filter_queryset(queryset) if self.action == "list" else queryset

    @extend_schema(request=OfferIn, responses={201: CommitmentOut}, parameters=[KEY_PARAMETER])
    def create(self, request: Request) -> Response:
        """Ask a grower to grow a variety in a garden of theirs (coordinators).

        409 with what a plan would hold against it, unless `despite_doubts`.
        """
        sent = self._taken(OfferIn)
        made = services.ask_grower(on=timezone.localdate(), by=self.asker, **sent)
        return self._shown(made, status=201)

    @extend_schema(responses=GrowOutGuidanceOut, filters=False)
    @action(detail=True, methods=["get"])
    def guidance(self, request: Request, pk: str) -> Response:
        """All that its grower must know of an offer or a promise that stands; 409 once over."""
        told = services.guidance_of(self.get_object(), on=timezone.localdate())
        return Response(GrowOutGuidanceOut(told).data)

    @extend_schema(request=NoteIn, responses=CommitmentOut, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def accept(self, request: Request, pk: str) -> Response:
        """Promise to grow it; packets are set aside (the grower)."""
        return self._done(services.accept, NoteIn)

    @extend_schema(request=DeclineIn, responses=CommitmentOut, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def decline(self, request: Request, pk: str) -> Response:
        """Say no, and perhaps what you would rather grow (the grower)."""
        return self._done(services.decline, DeclineIn)

    @extend_schema(request=FailIn, responses=CommitmentOut, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def fail(self, request: Request, pk: str) -> Response:
        """Say that the crop failed, and why."""
        return self._done(services.fail, FailIn)

    @extend_schema(request=ReasonIn, responses=CommitmentOut, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def withdraw(self, request: Request, pk: str) -> Response:
        """Call off an offer, or a promise whose seed was not handed over (coordinators)."""
        return self._done(services.withdraw, ReasonIn)

    @extend_schema(responses=ReplacementOut, filters=False)
    @action(detail=True, methods=["get"])
    def replacement(self, request: Request, pk: str) -> Response:
        """Who could still take over what failed, the surest grower first (coordinators)."""
        commitment = self.get_object()
        services.coordinates(self.asker)
        found = replacement_for(commitment, on=timezone.localdate())
        return Response(ReplacementOut(found).data)

    @extend_schema(
        request=ReplaceIn, responses={201: CommitmentOut}, parameters=[KEY_PARAMETER]
    )
    @replacement.mapping.post
    def replace(self, request: Request, pk: str) -> Response:
        """Ask the grower of a garden to take over what failed (coordinators)."""
        commitment = self.get_object()
        garden = self._taken(ReplaceIn)["garden"]
        made = services.offer_replacement(
            failed=commitment, garden=garden, on=timezone.localdate(), by=self.asker
        )
        return self._shown(made, status=201)

    @extend_schema(
        request={"application/json": StepReportIn, "multipart/form-data": StepReportIn},
        responses=CommitmentOut,
        parameters=[KEY_PARAMETER],
    )
    @action(
        detail=True, methods=["post"], parser_classes=[JSONParser, MultiPartParser, FormParser]
    )
    def report(self, request: Request, pk: str) -> Response:
        """Report a step; a later report corrects an earlier one."""
        commitment = self.get_object()
        sent = self._taken(StepReportIn)
        kind = sent.pop("kind")
        milestone = commitment.milestones.filter(kind=kind).first()
        if milestone is None:
            raise ValidationError({"kind": f"This grow-out has no step “{kind}”."})
        report_milestone(milestone=milestone, today=timezone.localdate(), by=self.asker, **sent)
        return self._shown(commitment)

    def _done(self, verb: Any, shape: type[serializers.Serializer]) -> Response:
        commitment = self.get_object()
        sent = self._taken(shape)
        verb(commitment=commitment, on=timezone.localdate(), by=self.asker, **sent)
        return self._shown(commitment)

    def _taken(self, shape: type[serializers.Serializer]) -> dict[str, Any]:
        sent = shape(data=self.request.data, context=self.get_serializer_context())
        sent.is_valid(raise_exception=True)
        return dict(sent.validated_data)

    def _shown(self, commitment: Commitment, status: int = 200) -> Response:
        row = self.get_queryset().get(pk=commitment.pk)
        return Response(self.get_serializer(row).data, status=status)


class JpegRenderer(BaseRenderer):
    """Lets a request ask for a picture; the view writes it, and a refusal is in JSON."""

    media_type = "image/jpeg"
    format = "jpg"

    def render(self, data: Any, *args: Any, **kwargs: Any) -> bytes:
        return JSONRenderer().render(data)


class PhotoView(GenericAPIView):
    """A photo of a report."""

    permission_classes = [IsMember]
    queryset = MilestonePhoto.objects.none()  # for the API's description
    renderer_classes = [JpegRenderer, JSONRenderer]
    pagination_class = None
    filter_backends: list = []

    @extend_schema(responses={(200, "image/jpeg"): OpenApiTypes.BINARY})
    def get(self, request: Request, identifier: Any) -> HttpResponse:
        """The picture, to the grower and to coordinators."""
        asker = cast(Member, request.user)
        links = MilestonePhoto.objects.visible_to(asker).select_related("photo")
        return photo_response(
            request, get_object_or_404(links, photo__identifier=identifier).photo
        )

    def handle_exception(self, exc: Exception) -> Response:
        """A refusal is in JSON, as everywhere."""
        self.request.accepted_renderer = JSONRenderer()
        self.request.accepted_media_type = JSONRenderer.media_type
        return super().handle_exception(exc)
