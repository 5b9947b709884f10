"""Files of the card box over the API: for coordinators, and of people for administrators."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.exceptions import ValidationError
from rest_framework.parsers import JSONParser, MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.access import IsCoordinator
from accounts.idempotency import KEY_PARAMETER
from library.cardbox import services
from library.cardbox.filters import CardImportFilter, CardRowFilter
from library.cardbox.models import CardImport, CardRow
from library.cardbox.serializers import (
    AnswersInput,
    CardFileInput,
    CardImportDetailSerializer,
    CardImportSerializer,
    CardRowSerializer,
    ColumnsInput,
)
from library.lending.api.base import DeskViewSet

SHOWN = CardImportDetailSerializer


class CardImportViewSet(DeskViewSet):
    """Lists that were kept elsewhere: looked at row by row, confirmed, written, undone."""

    queryset = CardImport.objects.with_details().order_by("-pk")
    serializer_class = CardImportSerializer
    permission_classes = [IsCoordinator]
    filterset_class = CardImportFilter
    parser_classes = [JSONParser, MultiPartParser]  # a file may be sent as one

    @extend_schema(responses=SHOWN)
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """The import, how many rows have which fate, and what has to be decided."""
        return self._told(self.get_object())

    @extend_schema(
        request={"application/json": CardFileInput, "multipart/form-data": CardFileInput},
        responses={201: SHOWN},
        parameters=[KEY_PARAMETER],
    )
    def create(self, request: Request) -> Response:
        """Bring a file in. Nothing of it is written; its columns are guessed."""
        sent = self.taken(CardFileInput)
        file = sent.get("file")
        card = services.bring_in(
            kind=sent["kind"],
            file_name=file.name if file else sent["file_name"],
            content=services.content_of(file) if file else sent["content"].encode(),
            by=self.asker,
        )
        return self._told(card, status.HTTP_201_CREATED)

    @extend_schema(request=ColumnsInput, responses=SHOWN, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def columns(self, request: Request, pk: str) -> Response:
        """Say what the columns hold; the rows are then looked at in the background."""
        words = self.taken(ColumnsInput)
        words["fields"] = words.pop("fields_of_columns")
        return self._told(
            services.choose_columns(card_import=self.get_object(), by=self.asker, **words)
        )

    @extend_schema(request=AnswersInput, responses=SHOWN, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def answers(self, request: Request, pk: str) -> Response:
        """Decide what is unclear; the rows that ask it are then looked at again."""
        answers = self.taken(AnswersInput)["answers"]
        return self._told(
            services.answer_questions(
                card_import=self.get_object(), answers=answers, by=self.asker
            )
        )

    @extend_schema(request=None, responses=SHOWN, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def confirm(self, request: Request, pk: str) -> Response:
        """Have the new rows written in the background, each exactly once."""
        return self._told(
            services.confirm(
                card_import=self.get_object(), by=self.asker, on=timezone.localdate()
            )
        )

    @extend_schema(request=None, responses=SHOWN, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def stop(self, request: Request, pk: str) -> Response:
        """Leave the file, or stop the work on it after its batch."""
        return self._told(services.stop(card_import=self.get_object(), by=self.asker))

    @extend_schema(request=None, responses=SHOWN, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    def undo(self, request: Request, pk: str) -> Response:
        """Have all of it taken back; 409 with what was built on it."""
        return self._told(
            services.undo(card_import=self.get_object(), by=self.asker, on=timezone.localdate())
        )

    @extend_schema(responses=CardRowSerializer(many=True), filters=True)
    @action(detail=True, filterset_class=CardRowFilter, queryset=CardRow.objects.none())
    def rows(self, request: Request, pk: str) -> Response:
        """The rows with their fates, a page at a time."""
        self.queryset = CardImport.objects.all()
        rows = self.get_object().rows.order_by("number")
        asked = CardRowFilter(request.query_params, queryset=rows, request=request)
        if not asked.is_valid():
            raise ValidationError(asked.errors)
        page = self.paginate_queryset(asked.qs)
        return self.get_paginated_response(CardRowSerializer(page, many=True).data)

    def _told(self, card: CardImport, code: int = status.HTTP_200_OK) -> Response:
        row = CardImport.objects.select_related("brought_by").defer("content", "sample")
        return Response(SHOWN(row.get(pk=card.pk)).data, status=code)
