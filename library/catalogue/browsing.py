"""One page of varieties, at a cost that does not grow with the card file."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.urls import reverse
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from library.catalogue.models import Variety
from library.catalogue.reference_words import name_of_crop
from library.catalogue.services import synonyms_of

PER_PAGE = 50
_SELECTED = SafeString(" selected")
SHOWN = (
    "name",
    "breeding_status",
    "generation",
    "days_to_maturity",
    "is_rare",
    "crop__name",
    "crop__slug",
)


def shelf_page(varieties: QuerySet[Variety], number: str | None, *, with_names: bool) -> Page:
    """The page of that number, the nearest there is, its varieties with crop and shelf.

    The database first finds the page's fifty keys over the bare index; crop and shelf are asked
    for those fifty only. ``with_names`` adds the synonyms, for who searched by one.
    """
    paginator = Paginator(varieties.values_list("pk", flat=True), PER_PAGE)
    page: Any = paginator.get_page(number)  # it gets what the template wants besides
    keys = list(page.object_list)
    cards = Variety.objects.filter(pk__in=keys).select_related("crop").with_on_shelf()
    if with_names:
        cards = cards.prefetch_related("names")
    by_key = {card.pk: card for card in cards.only(*SHOWN).order_by()}
    # A card removed between the two questions is left out.
    page.object_list = _labelled([by_key[key] for key in keys if key in by_key])
    for card in page.object_list:
        card.other_names = ", ".join(synonyms_of(card)) if with_names else ""
    _address(page.object_list)
    page.numbers = paginator.get_elided_page_range(page.number)
    return page


def _labelled(cards: list[Any]) -> list[Any]:
    """The cards with ``label`` and ``crop_name``: a few words that many share, so each is
    translated once.
    """
    labels: dict[tuple, str] = {}
    crops = {name: name_of_crop(name) for name in {card.crop.name for card in cards}}
    for card in cards:
        card.crop_name = crops[card.crop.name]
        key = (card.breeding_status, card.generation)
        if key not in labels:
            labels[key] = card.breeding_label
        card.label = labels[key]
    return cards


def _address(cards: list[Any]) -> None:
    """Give the cards their ``address``: finding a route fifty times costs more than the rows
    do, so it is found once and filled in.
    """
    route = reverse("variety", args=[0, "slug"])
    for card in cards:
        card.address = route.replace("0-slug", f"{card.pk}-{card.slug}")


def options(choices: Iterable[tuple[Any, Any]], chosen: str) -> SafeString:
    """The options of a select. A hundred of them in a template cost as much as the rows do."""
    shown = tuple((str(value), str(label)) for value, label in choices)
    return _options(shown, chosen if chosen in dict(shown) else "")


@lru_cache(maxsize=256)  # the crops and the words change seldom, and each is a key of its own
def _options(choices: tuple[tuple[str, str], ...], chosen: str) -> SafeString:
    return format_html_join(
        "\n",
        '<option value="{}"{}>{}</option>',
        ((value, _SELECTED if value == chosen else "", label) for value, label in choices),
    )
