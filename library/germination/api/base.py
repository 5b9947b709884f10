"""What the bench's resources share."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from rest_framework import serializers
from rest_framework.permissions import SAFE_METHODS

from accounts.access import IsDesk, IsMemberOrReadOnly
from library.errors import Refused


class ReadAsCatalogueWriteAtDesk(IsDesk):
    """Tests are read like the catalogue and written by the desk."""

    def has_permission(self, request, view) -> bool:
        if request.method in SAFE_METHODS:
            return IsMemberOrReadOnly().has_permission(request, view)
        return super().has_permission(request, view)


class Asking:
    """For viewsets: what was sent, when its shape is right, and who sent it."""

    request: Any

    def asked(self, shape: type[serializers.Serializer]) -> dict[str, Any]:
        sent = shape(data=self.request.data)
        sent.is_valid(raise_exception=True)
        return {"by": self.request.user} | sent.validated_data


@contextmanager
def known_here_as(**names: str) -> Iterator[None]:
    """A refusal names the field as it was sent, where a service calls it otherwise."""
    try:
        yield
    except Refused as refused:
        refused.field = names.get(refused.field or "", refused.field)
        raise
