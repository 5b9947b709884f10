"""What a household's plans follow of the apps below.

The lists go with their gardens, which `accounts.services.leaving.forget` deletes.
"""

from __future__ import annotations

from library import hooks
from library.household.export import known_of


def register() -> None:
    hooks.register_known("household", known_of)
