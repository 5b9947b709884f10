"""Tokens for scripts, and the gardens endpoint."""

from __future__ import annotations

from knox.auth import TokenAuthentication as KnoxAuthentication
from rest_framework.exceptions import AuthenticationFailed


class TokenAuthentication(KnoxAuthentication):
    """``Authorization: Token …``; a header that is not text is refused, not an error."""

    def authenticate_credentials(self, token: bytes):
        try:
            token.decode("ascii")
        except UnicodeDecodeError as error:
            raise AuthenticationFailed("Invalid token.") from error
        return super().authenticate_credentials(token)
