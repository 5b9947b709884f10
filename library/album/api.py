"""Photos of varieties, lots and season notes over the API."""

from __future__ import annotations

import base64
import binascii
import io
from typing import Any

import django_filters
from django.core.files.uploadedfile import InMemoryUploadedFile
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers, status, viewsets
from rest_framework.generics import GenericAPIView
from rest_framework.parsers import JSONParser, MultiPartParser
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.idempotency import KEY_PARAMETER, IdempotentMixin
from library.album.models import AttachedPhoto
from library.album.services import attach_photo, remove_photo
from library.catalogue.filters import WholeNumberFilter
from library.catalogue.models import SeasonNote, Variety
from library.photos.views import photo_response
from library.stock.models import Lot


class AttachedPhotoSerializer(serializers.ModelSerializer):
    identifier = serializers.UUIDField(source="photo.identifier", read_only=True)
    caption = serializers.CharField(source="photo.caption", read_only=True)
    width = serializers.IntegerField(source="photo.width", read_only=True)
    height = serializers.IntegerField(source="photo.height", read_only=True)
    lot = serializers.CharField(source="lot.number", default=None, read_only=True)
    added_by = serializers.CharField(
        source="photo.added_by.display_name", default=None, read_only=True
    )
    added_at = serializers.DateTimeField(source="photo.added_at", read_only=True)

    class Meta:
        model = AttachedPhoto
        fields = ["identifier", "caption", "width", "height", "variety", "lot", "note",
                  "added_by", "added_at"]  # fmt: skip


class PhotoInput(serializers.Serializer):
    """A photo of one thing: as a file in a form, or in base64 in JSON."""

    variety = serializers.IntegerField(required=False, min_value=1, max_value=2**62)
    lot = serializers.CharField(required=False, max_length=20, help_text="A lot's number.")
    note = serializers.IntegerField(required=False, min_value=1, max_value=2**62)
    file = serializers.FileField(required=False, max_length=200)
    content = serializers.CharField(required=False, help_text="The file in base64.")
    caption = serializers.CharField(
        required=False, allow_blank=True, default="", max_length=250
    )

    def validate(self, sent: dict[str, Any]) -> dict[str, Any]:
        if sum(name in sent for name in ("variety", "lot", "note")) != 1:
            raise serializers.ValidationError(
                {"variety": _("Name one thing: a variety, a lot or a season note.")}
            )
        if ("file" in sent) == ("content" in sent):
            raise serializers.ValidationError(
                {"content": _("Send either the file, or its content in base64.")}
            )
        if "content" in sent:
            sent["file"] = _decoded(sent.pop("content"))
        return sent


def _decoded(text: str) -> InMemoryUploadedFile:
    try:
        raw = base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        raise serializers.ValidationError({"content": _("This is not base64.")}) from None
    return InMemoryUploadedFile(io.BytesIO(raw), "content", "photo", None, len(raw), None)


class AlbumFilter(django_filters.FilterSet):
    variety = WholeNumberFilter(field_name="variety", min_value=1, max_value=2**62)
    lot = django_filters.CharFilter(field_name="lot__number")
    note = WholeNumberFilter(field_name="note", min_value=1, max_value=2**62)

    class Meta:
        model = AttachedPhoto
        fields: list[str] = []


class AlbumViewSet(
    IdempotentMixin,
    mixins.ListModelMixin,
    mixins.RetrieveModelMixin,
    viewsets.GenericViewSet,
):
    """Photos, to whoever may see what they are of."""

    queryset = AttachedPhoto.objects.order_by("-pk")
    serializer_class = AttachedPhotoSerializer
    filterset_class = AlbumFilter
    parser_classes = [JSONParser, MultiPartParser]
    http_method_names = ["get", "post", "delete", "head", "options"]
    lookup_field = "photo__identifier"
    lookup_url_kwarg = "identifier"
    lookup_value_converter = "uuid"

    def get_queryset(self) -> Any:
        rows: Any = super().get_queryset()
        return rows.visible_to(self.request.user).with_details()

    @extend_schema(
        request={"application/json": PhotoInput, "multipart/form-data": PhotoInput},
        responses={201: AttachedPhotoSerializer},
        parameters=[KEY_PARAMETER],
    )
    def create(self, request: Request) -> Response:
        """Add a photo; it is written anew, without what the camera noted."""
        sent = PhotoInput(data=request.data)
        sent.is_valid(raise_exception=True)
        words = sent.validated_data
        by: Any = request.user
        attached = attach_photo(
            subject=_subject(words, by), upload=words["file"], caption=words["caption"], by=by
        )
        row = self.get_queryset().get(pk=attached.pk)
        return Response(AttachedPhotoSerializer(row).data, status=status.HTTP_201_CREATED)

    @extend_schema(responses={204: None})
    def destroy(self, request: Request, identifier: Any) -> Response:
        """Remove a photo that one may remove."""
        by: Any = request.user
        remove_photo(attached=self.get_object(), by=by)
        return Response(status=status.HTTP_204_NO_CONTENT)


def _subject(words: dict[str, Any], by: Any) -> Any:
    if "variety" in words:
        return get_object_or_404(Variety, pk=words["variety"])
    if "lot" in words:
        return get_object_or_404(Lot.objects.visible_to(by), number=words["lot"])
    return get_object_or_404(SeasonNote.objects.readable_by(by), pk=words["note"])


class JpegRenderer(BaseRenderer):
    """Lets a request ask for the picture; the view writes it."""

    media_type = "image/jpeg"
    format = "jpg"

    def render(self, data: Any, *args: Any, **kwargs: Any) -> bytes:
        return JSONRenderer().render(data)


class PhotoImageView(GenericAPIView):
    queryset = AttachedPhoto.objects.none()  # for the API's description
    renderer_classes = [JpegRenderer, JSONRenderer]
    pagination_class = None
    filter_backends: list = []

    @extend_schema(responses={(200, "image/jpeg"): OpenApiTypes.BINARY})
    def get(self, request: Request, identifier: Any) -> HttpResponse:
        """The picture itself, to whoever may see what it is of."""
        rows = AttachedPhoto.objects.visible_to(request.user).select_related("photo")
        attached = rows.filter(photo__identifier=identifier).first()
        if attached is None:
            raise Http404
        return photo_response(request, attached.photo)

    def handle_exception(self, exc: Exception) -> Response:
        """A refusal is in JSON, as everywhere."""
        self.request.accepted_renderer = JSONRenderer()
        self.request.accepted_media_type = JSONRenderer.media_type
        return super().handle_exception(exc)
