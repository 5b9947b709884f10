"""What the three resources share."""

from __future__ import annotations

from typing import Any, cast

from rest_framework import mixins, serializers, viewsets

from accounts.access import IsMember
from accounts.idempotency import IdempotentMixin
from accounts.models import Member
from library.lending.services import NewCard, Packing


class DeskActions(IdempotentMixin, viewsets.GenericViewSet):
    """A member sees their own rows, the desk everybody's; another's is not found."""

    permission_classes = [IsMember]
    http_method_names = ["get", "post", "head", "options"]
    lookup_value_regex = "[0-9]+"

    @property
    def asker(self) -> Member:
        """Who asks: an approved member, as the permission has made sure."""
        return cast(Member, self.request.user)

    def get_queryset(self):
        rows: Any = super().get_queryset()
        return rows.visible_to(self.request.user).with_details()

    def filter_queryset(self, queryset):
        return super().filter_queryset(queryset) if self.action == "list" else queryset

    def taken(self, serializer: type[serializers.Serializer]) -> dict[str, Any]:
        """What was sent, when its shape is right."""
        sent = serializer(data=self.request.data, context=self.get_serializer_context())
        sent.is_valid(raise_exception=True)
        return dict(sent.validated_data)

    def shown(self, row) -> dict[str, Any]:
        return self.get_serializer(self.get_queryset().get(pk=row.pk)).data


class DeskViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, DeskActions):
    """The same, with the rows listed and each at an address of its own."""


def received(sent: dict[str, Any]) -> dict[str, Any]:
    """The words of ``receive_deposit`` or ``receive_return`` from what the desk sent."""
    words = {name: value for name, value in sent.items() if value is not None}
    if "new_card" in words:
        words["new_card"] = NewCard(**words["new_card"])
    packets, each = words.pop("packets", None), words.pop("seeds_each", None)
    if packets is not None or each is not None:
        words["packing"] = Packing(packets, each)
    return words
