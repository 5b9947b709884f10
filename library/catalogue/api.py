"""The card file over the API; each write calls the service that its page calls."""

from __future__ import annotations

from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_view
from rest_framework import mixins, status, viewsets
from rest_framework.permissions import SAFE_METHODS
from rest_framework.response import Response

from accounts.access import IsDesk, IsMemberOrReadOnly
from accounts.idempotency import KEY_PARAMETER, IdempotentMixin
from library.catalogue import services
from library.catalogue.filters import CropFilter, SeasonNoteFilter, VarietyFilter
from library.catalogue.models import Crop, SeasonNote, Species, Variety
from library.catalogue.serializers import (
    CropSerializer,
    SeasonNoteChange,
    SeasonNoteInput,
    SeasonNoteSerializer,
    SpeciesSerializer,
    VarietyChange,
    VarietyDetailSerializer,
    VarietyInput,
    VarietySerializer,
)

METHODS = ["get", "post", "patch", "delete", "head", "options"]


class KeptByDesk(IsDesk):
    """Cards: read as the community allows, written by the desk."""

    def has_permission(self, request, view) -> bool:
        if request.method in SAFE_METHODS:
            return IsMemberOrReadOnly().has_permission(request, view)
        return super().has_permission(request, view)


class SpeciesViewSet(viewsets.ReadOnlyModelViewSet):
    """Species, the crossing units, with every figure and its source."""

    queryset = Species.objects.with_figures().prefetch_related("crops").order_by("slug")
    serializer_class = SpeciesSerializer
    lookup_field = "slug"


class CropViewSet(viewsets.ReadOnlyModelViewSet):
    """Crops: kinds within a species, with the species' figures and their sources."""

    queryset = Crop.objects.with_figures().prefetch_related("species__crops").order_by("slug")
    serializer_class = CropSerializer
    filterset_class = CropFilter
    lookup_field = "slug"


@extend_schema_view(create=extend_schema(parameters=[KEY_PARAMETER]))
class VarietyViewSet(IdempotentMixin, viewsets.ReadOnlyModelViewSet):
    """The cards: searched by any name, misspelt too, and filtered."""

    queryset = Variety.objects.with_crop().with_on_shelf().prefetch_related("names")
    permission_classes = [KeptByDesk]
    filterset_class = VarietyFilter
    http_method_names = ["get", "post", "patch", "head", "options"]

    def get_queryset(self):
        cards = super().get_queryset()
        return cards.prefetch_related("edits") if self.action == "retrieve" else cards

    def get_serializer_class(self):
        return VarietySerializer if self.action == "list" else VarietyDetailSerializer

    def filter_queryset(self, queryset):
        return super().filter_queryset(queryset) if self.action == "list" else queryset

    @extend_schema(request=VarietyInput, responses={201: VarietyDetailSerializer})
    def create(self, request, *args, **kwargs) -> Response:
        """Write a new card (desk and coordinators)."""
        card = VarietyInput(data=request.data)
        card.is_valid(raise_exception=True)
        variety = services.add_variety(by=request.user, **card.validated_data)
        return self._answer(variety, status.HTTP_201_CREATED)

    @extend_schema(request=VarietyChange, responses=VarietyDetailSerializer)
    def partial_update(self, request, *args, **kwargs) -> Response:
        """Change a card (desk; crop, breeding status and generation: coordinators)."""
        variety = self.get_object()
        card = VarietyChange(data=request.data, partial=True)
        card.is_valid(raise_exception=True)
        changes = dict(card.validated_data)
        revision = changes.pop("revision", None)
        services.edit_variety(
            variety=variety, by=request.user, changes=changes, revision=revision
        )
        return self._answer(variety, status.HTTP_200_OK)

    def _answer(self, variety: Variety, code: int) -> Response:
        fresh = self.get_queryset().get(pk=variety.pk)
        return Response(VarietyDetailSerializer(fresh).data, status=code)


@extend_schema_view(create=extend_schema(parameters=[KEY_PARAMETER]))
class SeasonNoteViewSet(
    IdempotentMixin, mixins.ListModelMixin, mixins.RetrieveModelMixin, viewsets.GenericViewSet
):
    """Season notes that the reader may read; their authors write, change and remove them."""

    queryset = SeasonNote.objects.with_author()
    serializer_class = SeasonNoteSerializer
    permission_classes = [IsMemberOrReadOnly]
    filterset_class = SeasonNoteFilter
    http_method_names = METHODS

    def get_queryset(self):
        return SeasonNote.objects.with_author().readable_by(self.request.user)

    @extend_schema(request=SeasonNoteInput, responses={201: SeasonNoteSerializer})
    def create(self, request, *args, **kwargs) -> Response:
        """Write a note about a season."""
        note = SeasonNoteInput(data=request.data)
        note.is_valid(raise_exception=True)
        written = services.write_note(
            by=request.user, on=timezone.localdate(), **note.validated_data
        )
        return Response(self.get_serializer(written).data, status=status.HTTP_201_CREATED)

    @extend_schema(request=SeasonNoteChange)
    def partial_update(self, request, *args, **kwargs) -> Response:
        """Change a note of one's own."""
        note = self.get_object()
        change = SeasonNoteChange(data=request.data, partial=True)
        change.is_valid(raise_exception=True)
        kept = {"year": note.year, "text": note.text, "readers": note.readers}
        services.edit_note(
            note=note,
            by=request.user,
            on=timezone.localdate(),
            **(kept | change.validated_data),
        )
        return Response(self.get_serializer(note).data)

    def destroy(self, request, *args, **kwargs) -> Response:
        """Remove a note: one's own, or for a coordinator one that others read."""
        services.remove_note(note=self.get_object(), by=request.user)
        return Response(status=status.HTTP_204_NO_CONTENT)
