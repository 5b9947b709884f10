"""How the API's description speaks of our tokens."""

from __future__ import annotations

from drf_spectacular.extensions import OpenApiAuthenticationExtension


class TokenScheme(OpenApiAuthenticationExtension):
    target_class = "accounts.authentication.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema) -> dict:
        return {
            "type": "apiKey",
            "in": "header",
            "name": "Authorization",
            "description": "`Token`, a space, and the token that you made in your account.",
        }
