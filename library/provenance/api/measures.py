"""What a chain kept, over the API."""

from __future__ import annotations

from django.http import Http404
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.access import may_browse
from library.provenance.chain import chain_up
from library.provenance.measuring import measure
from library.provenance.serializers.measures import ChainMeasuresSerializer, LineAsked
from library.stock.models import Lot


class ChainMeasuresView(GenericAPIView):
    """A chain names other lots than the one asked for, so it is for who may browse them all."""

    queryset = Lot.objects.none()  # for the API's description
    serializer_class = ChainMeasuresSerializer
    pagination_class = None
    filter_backends: list = []

    @extend_schema(parameters=[LineAsked])
    def get(self, request: Request, number: str) -> Response:
        """How much of its deposits' diversity a lot has kept, by the plants that gave seed in
        each generation of its chain; what was assumed; and how far a line from an F1 is.
        """
        if not may_browse(request.user):
            raise Http404
        lot = get_object_or_404(Lot.objects.visible_to(request.user), number=number)
        asked = LineAsked(data=request.query_params)
        asked.is_valid(raise_exception=True)
        context = {**self.get_serializer_context(), "asked": asked.validated_data}
        found = measure(chain_up(lot))
        return Response(self.serializer_class(found, context=context).data)
