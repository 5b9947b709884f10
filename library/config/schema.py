"""The API's description: every operation says how it can refuse, in one shape."""

from __future__ import annotations

from typing import Literal

from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiResponse
from rest_framework import serializers


class ErrorSerializer(serializers.Serializer):
    """What every refusal looks like."""

    code = serializers.CharField(help_text="A word for programs, as `invalid` or `not_enough`.")
    detail = serializers.CharField(help_text="A sentence for people.")
    field = serializers.CharField(allow_null=True, help_text="The field that it is about.")
    errors = serializers.DictField(  # type: ignore[assignment]  # the class has one too
        required=False, help_text="With the code `invalid`: every field's sentences."
    )


EVERY_OPERATION = {
    "400": "Something in the request is not as it should be.",
    "401": "No token, or one that is not valid.",
    "403": "You may see it but not do this.",
    "404": "There is no such thing, or it is not for you to see.",
    "405": "This address does not know this method.",
}
WRITING = {
    "409": "Not enough is left, or somebody else was first.",
    "415": "The body is not JSON.",
}


class LibrarySchema(AutoSchema):
    """Adds to each operation the refusals that it can give."""

    def _get_response_bodies(
        self, direction: Literal["request", "response"] = "response"
    ) -> dict:
        bodies = super()._get_response_bodies(direction)
        if direction == "response":
            for status, sentence in self.refusals().items():
                if status not in bodies:
                    answer = OpenApiResponse(ErrorSerializer, description=sentence)
                    bodies[status] = self._get_response_for_code(answer, status)
        return bodies

    def refusals(self) -> dict[str, str]:
        writes = self.method in ("POST", "PUT", "PATCH", "DELETE")
        return EVERY_OPERATION | (WRITING if writes else {})
