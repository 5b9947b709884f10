"""A lot's ancestors and descendants over the API."""

from __future__ import annotations

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from library.provenance.serializers.walking import RelativeSerializer
from library.provenance.walking import Walk, ancestors_of, descendants_of
from library.stock.models import Lot


class _Relatives(GenericAPIView):
    """The lots of a walk, nearest first, a page at a time; the rows are read for the page."""

    queryset = Lot.objects.none()  # for the API's description; see visible
    serializer_class = RelativeSerializer
    filter_backends: list = []

    def walk(self, lot: Lot) -> Walk:
        raise NotImplementedError

    def visible(self):
        return Lot.objects.visible_to(self.request.user)

    @extend_schema(responses=RelativeSerializer(many=True))
    def get(self, request: Request, number: str) -> Response:
        walk = self.walk(get_object_or_404(self.visible(), number=number))
        page = self.paginate_queryset(walk.nearest_first()) or []
        rows = self.visible().with_variety().with_people().select_related("foreign")
        lots = {lot.pk: lot for lot in rows.filter(pk__in=[r.lot for r in page])}
        context = {**self.get_serializer_context(), "lots": lots}
        # Who may not browse sees of a chain only the lots that they keep themselves.
        seen = [relative for relative in page if relative.lot in lots]
        return self.get_paginated_response(
            self.serializer_class(seen, many=True, context=context).data
        )


class AncestorsView(_Relatives):
    """The lots that went into this one, by generation, each with its share."""

    def walk(self, lot: Lot) -> Walk:
        return ancestors_of(lot)


class DescendantsView(_Relatives):
    """The lots that this one went into, by generation, with its share of each."""

    def walk(self, lot: Lot) -> Walk:
        return descendants_of(lot)
