"""Taking away from a household's plans, and putting back."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest
from django.urls import reverse

from accounts import taking_away
from library.growouts.views.seasons.base import Asked
from library.household.models import Dish, SavedVariety
from library.household.services.putting_back import Thing, as_kept, put_back


def take_away(
    request: HttpRequest, thing: Thing, remove: Callable[[], None], told: str
) -> None:
    """Remove it, and say so beside a button that puts it back. Only the last can come back."""
    undo = reverse("own-garden-put-back")
    taking_away.take_away(request, kept=as_kept(thing), remove=remove, told=told, undo=undo)


class PutBack(Asked, taking_away.PutBackPage):
    def put_back(self, kept: str) -> Thing:
        thing = put_back(kept=kept, by=self.asker)
        return thing.plan if isinstance(thing, SavedVariety | Dish) else thing

    def nowhere(self) -> str:
        return reverse("own-garden")
