"""What a dish needs, in the reader's language, each figure with who says so."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from library.catalogue.models import How
from library.household.kitchen.reckoning import Kitchen, Reckoned
from library.household.kitchen.table_words import said
from library.household.kitchen.tables import (
    PreservingCaution,
    Product,
    PublishedYield,
    cautions_about,
    cautions_for,
)
from library.household.words import Row
from library.science.kitchen import Per, Yield

# A quart and a pint of the United States are 946 and 473 ml by definition.
UNITS = {
    "quart": gettext_lazy("quart jars (0.95 l)"),
    "pint": gettext_lazy("pint jars (0.47 l)"),
    "lb": gettext_lazy("lb dried (0.45 kg each)"),
    "": gettext_lazy("kg"),
}
PER = {
    Per.PLANT: gettext_lazy("kg from a plant"),
    Per.METRE: gettext_lazy("kg from a metre of row"),
    Per.SQUARE_METRE: gettext_lazy("kg from a square metre"),
}
MISSING = {
    "produce": gettext_lazy(
        "The source tells no weight of fresh produce for this. Give your own."
    ),
    "yield": gettext_lazy(
        "No harvest of this crop is in the tables. Give your own, from a plant, a metre of row "
        "or a square metre."
    ),
    "spacing": gettext_lazy(
        "How far apart its plants stand for the kitchen is in no table. Give your own "
        "distances to be told plants and room."
    ),
}
YOURS = gettext_lazy("your own figure")
_SHARED = gettext_lazy(
    "Fruits for seed ripen on the same plants as those you eat; they stay on, and are not "
    "eaten."
)
_APART = gettext_lazy("What gives seed is not eaten: these plants stand beside the others.")


@dataclass(frozen=True)
class DishCard:
    """A dish as the page shows it."""

    one: Reckoned
    title: str
    missing: list[str]
    rows: list[Row]
    seed: str
    note: str

    @property
    def local_note(self) -> str:
        """What the recipe's source says, in the reader's language."""
        return said(self.note)

    @property
    def kg(self) -> str:
        return "" if self.one.kg is None else number_format(self.one.kg, decimal_pos=1)


def cards_of(kitchen: Kitchen) -> list[DishCard]:
    return [card_of(one) for one in kitchen.dishes]


def card_of(one: Reckoned) -> DishCard:
    return DishCard(
        one,
        title_of(one),
        [str(MISSING[word]) for word in one.missing],
        rows_of(one),
        seed_words(one),
        one.product.note if one.product else "",
    )


def title_of(one: Reckoned) -> str:
    """``52 quart jars (0.95 l): tomato, sauce, thin``."""
    unit = one.product.unit if one.product else ""
    what = said(one.product.name) if one.product else _("eaten fresh")
    return _("%(amount)s %(unit)s: %(crop)s, %(what)s") % {
        "amount": plain(one.wanted),
        "unit": UNITS[unit],
        "crop": one.dish.crop.local_name,
        "what": what,
    }


def plain(value: float, places: int = 2) -> str:
    """A number without zeros at its end."""
    told = number_format(round(value, places), decimal_pos=places)
    return told.rstrip("0").rstrip(".,") if places and told[-1] == "0" else told


def product_words(product: Product) -> str:
    """For a choice: what it is, in what."""
    told = {
        "name": said(product.name),
        "unit": UNITS[product.unit],
        "section": said(product.section),
    }
    return _("%(section)s: %(name)s, %(unit)s") % told


def yield_words(found: PublishedYield) -> str:
    told = {
        "food": said(found.food),
        "printed": printed_words(found),
        "kg": figure(found.figure),
    }
    return _("%(food)s: %(printed)s, which is %(kg)s") % told


def printed_words(found: PublishedYield) -> str:
    """What the source prints: ``12.0 lb per 10 ft``."""
    amount, unit = found.printed.split(" ", 1)
    return f"{number_format(amount)} {said(unit)}"


def figure(gives: Yield) -> str:
    return f"{plain(gives.kg, 3)} {PER[gives.per]}"


def how_words(source: str, how: str) -> str:
    """Who says so; of what is only from memory, that it is."""
    return f"{source} ({How(_how(how)).label})" if how else source


def _how(how: str) -> str:
    """The table's word, as far as the catalogue has one."""
    for known in How.values:
        if how == known:
            return known
    return str(How.MEMORY)  # "ingredients read, yield memory"


def rows_of(one: Reckoned) -> list[Row]:
    """What went in, and what came of it."""
    dish = one.dish
    rows: list[Row] = [
        (
            _("wanted in the year"),
            f"{plain(one.wanted)} {UNITS[one.product.unit if one.product else '']}",
            _("%(amount)s, %(times)s times")
            % {"amount": plain(float(dish.amount)), "times": dish.times},
        ),
        _produce_row(one),
    ]
    if dish.plan.margin_percent:
        rows.append((_("margin"), f"{dish.plan.margin_percent} %", str(YOURS)))
    rows.append(_yield_row(one))
    rows.append(_spacing_row(one))
    if one.population is not None:
        rows.append(
            (
                _("plants that keep the variety"),
                str(one.population.plants),
                str(one.population.source),
            )
        )
    if one.advice is not None:
        rows.append((_("seeds to sow"), str(one.advice.seeds), one.advice.sentence))
    return rows


def _produce_row(one: Reckoned) -> Row:
    label = _("fresh produce for one")
    if one.own_produce:
        return (
            label,
            _("%(kg)s kg") % {"kg": plain(float(one.dish.own_kg_each or 0), 3)},
            str(YOURS),
        )
    if not one.dish.product:
        return label, _("1 kg"), _("eaten as it is")
    product = one.product
    if product is None or product.pounds_each is None:
        return label, _("not known"), how_words(product.source, product.how) if product else ""
    return (
        label,
        _("%(pounds)s lb") % {"pounds": plain(product.pounds_each, 3)},
        _("%(basis)s: %(amount)s lb give %(gives)s; %(source)s")
        % {
            "basis": said(product.basis),
            "amount": plain(product.pounds or 0),
            "gives": plain(product.gives),
            "source": how_words(product.source, product.how),
        },
    )


def _yield_row(one: Reckoned) -> Row:
    if one.gives is None:
        return _("harvest"), _("not known"), ""
    if one.own_yield:
        return _("harvest"), figure(one.gives), str(YOURS)
    published = one.published
    if published is None:
        return _("harvest"), figure(one.gives), ""
    told = how_words(published.source, published.how)
    printed = printed_words(published)
    if published.note:
        printed = f"{printed}; {said(published.note)}"
    return _("harvest"), figure(one.gives), f"{printed}; {told}"


def _spacing_row(one: Reckoned) -> Row:
    if one.spacing is None:
        return _("distances"), _("not known"), ""
    told = _("%(rows)s × %(in_row)s cm") % {
        "rows": plain(one.spacing.between_rows_cm),
        "in_row": plain(one.spacing.in_row_cm),
    }
    return _("distances"), told, str(YOURS) if one.own_spacing else one.spacing_source


def seed_words(one: Reckoned) -> str:
    """How seed and food share the plants; empty where no seed is saved."""
    if not one.dish.save_seed:
        return ""
    if one.dish.variety is None:
        return _("Choose its variety, to be told the plants for seed.")
    if one.population is None or one.plants is None:
        return ""
    how = str(_SHARED if one.shares else _APART)
    if not one.plants.give_seed:
        return _("Its plants for seed are counted with another dish of the variety. ") + how
    more = one.plants.for_seed_only
    if not more:
        return _("The plants for food are enough to keep it. ") + how
    return (
        ngettext("%(n)s plant more, for seed. ", "%(n)s plants more, for seed. ", more)
        % {"n": more}
        + how
    )


def cautions_of(kitchen: Kitchen) -> list[PreservingCaution]:
    """Where something is preserved here, what is to be minded; each once."""
    made = [(one.dish.crop.name, one.product) for one in kitchen.dishes if one.product]
    general = cautions_for((crop, product) for crop, product in made if product)
    return [*general, *cautions_about(one.dish.crop.name for one in kitchen.dishes)]
