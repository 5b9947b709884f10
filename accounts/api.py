"""The API about people: one's own gardens, and oneself."""

from __future__ import annotations

from typing import Any, cast

from drf_spectacular.utils import extend_schema, extend_schema_view
from rest_framework import status
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import BaseSerializer
from rest_framework.views import APIView
from rest_framework.viewsets import ModelViewSet

from accounts import services
from accounts.access import IsMember
from accounts.filters import GardenFilter
from accounts.idempotency import KEY_PARAMETER, IdempotentMixin
from accounts.models import Garden, Member
from accounts.serializers import GardenSerializer, MeSerializer


@extend_schema_view(create=extend_schema(parameters=[KEY_PARAMETER]))
class GardenViewSet(IdempotentMixin, ModelViewSet):
    """One's own gardens. Coordinators read every garden; nobody else learns of another's."""

    request: Any  # of a member: the permission lets nobody else in
    queryset = Garden.objects.none()
    serializer_class = GardenSerializer
    permission_classes = [IsMember]
    filterset_class = GardenFilter
    http_method_names = ["get", "post", "patch", "delete", "head", "options"]

    def get_queryset(self):
        gardens = Garden.objects.visible_to(self.request.user)
        return gardens.select_related("member").order_by("pk")

    def perform_create(self, serializer: BaseSerializer) -> None:
        member = self.request.user
        serializer.instance = services.add_garden(
            member=member, by=member, **serializer.validated_data
        )

    def perform_update(self, serializer: BaseSerializer) -> None:
        serializer.instance = services.edit_garden(
            garden=cast(Garden, serializer.instance),
            by=self.request.user,
            **serializer.validated_data,
        )

    def perform_destroy(self, instance: Garden) -> None:
        services.remove_garden(garden=instance, by=self.request.user)


class MeView(APIView):
    """Who is asking, what they may do, and what they prefer."""

    permission_classes = [IsAuthenticated]
    serializer_class = MeSerializer

    @extend_schema(responses=MeSerializer)
    def get(self, request: Request) -> Response:
        return Response(MeSerializer(request.user).data)

    @extend_schema(request=MeSerializer(partial=True), responses=MeSerializer)
    def patch(self, request: Request) -> Response:
        asked = MeSerializer(data=request.data, partial=True)
        asked.is_valid(raise_exception=True)
        member = services.save_preferences(
            member=cast(Member, request.user), **asked.validated_data
        )
        return Response(MeSerializer(member).data, status=status.HTTP_200_OK)
