"""Commitments over the API: one's own, for coordinators everybody's."""

from __future__ import annotations

from typing import Any, cast

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers, viewsets
from rest_framework.decorators import action
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.access import IsMember
from accounts.idempotency import KEY_PARAMETER, IdempotentMixin
from accounts.models import Member
from library.growouts.filters import CommitmentFilter
from library.growouts.models import Commitment
from library.growouts.serializers.commitments import (
    CommitmentOut,
    DeclineIn,
    FailIn,
    NoteIn,
    ReasonIn,
    StepReportIn,
)
from library.growouts.services import commitments as services
from library.growouts.services.milestones import report_milestone


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
        rows = rows.select_related("seed_return__lot")
        return rows.prefetch_related("milestones__reports__photos__photo").order_by("-pk")

    def filter_queryset(self, queryset):
        return super().filter_queryset(queryset) if self.action == "list" else queryset

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

    @extend_schema(request=StepReportIn, responses=CommitmentOut, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
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

    def _shown(self, commitment: Commitment) -> Response:
        return Response(self.get_serializer(self.get_queryset().get(pk=commitment.pk)).data)
