"""The words of preserving.csv and preserving_cautions.csv that pages show, in the reader's
language. Rows are found, and leave in files, by the English that the tables have.

A translated caution is as strict as the English: nothing added and nothing softened.
"""

from __future__ import annotations

from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _

SECTIONS = (
    _("canning"),
    _("drying"),
    _("pickling"),
    _("fermenting"),
    _("salsa"),
)

PRODUCTS = (
    _("sauce, thin (boiled down by about a third)"),
    _("sauce, thick (boiled down by about a half)"),
    _("crushed, no added liquid"),
    _("whole or halved, packed in water"),
    _("juice"),
    _("dried"),
    _("pieces, plain"),
    _("pickled dilled beans"),
    _("shelled"),
    _("whole, cubed or sliced"),
    _("sliced or diced"),
    _("sauerkraut"),
    _("for pickles"),
    _("quick fresh-pack dill pickles"),
    _("reduced-sodium sliced dill pickles"),
    _("plain"),
    _("tomatillo green salsa"),
    _("cubed (never mashed)"),
    _("whole kernel"),
)

BASES = (
    _("canner load of 7 quarts"),
    _("canner load of 9 pints"),
    _("fresh weight as picked"),
    _("recipe"),
)

FOODS = (
    _("tomato"),
    _("snap bean, bush"),
    _("snap bean, pole"),
    _("pea, English"),
    _("southern pea (cowpea)"),
    _("beet"),
    _("carrot"),
    _("cabbage"),
    _("broccoli"),
    _("cauliflower"),
    _("Brussels sprouts"),
    _("collards and kale"),
    _("kohlrabi"),
    _("mustard greens"),
    _("chard"),
    _("spinach"),
    _("lettuce, leaf"),
    _("parsley"),
    _("basil"),
    _("leek"),
    _("onion, bulb"),
    _("garlic"),
    _("cucumber"),
    _("eggplant"),
    _("okra"),
    _("pepper"),
    _("potato"),
    _("sweet potato"),
    _("summer squash"),
    _("winter squash"),
    _("cantaloupe"),
)

UNITS = (
    _("lb per 10 ft"),
    _("lb per ft"),
    _("lb per acre"),
)

NOTES = (
    _("acidify every jar"),
    _("ratio fresh to dried 28.0 to 1"),
    _("low acid: pressure canner only"),
    _("4 cups 5% vinegar, 4 cups water, half a cup of pickling salt; 5 min at 0-1000 ft"),
    _("ratio fresh to dried 12.0 to 1"),
    _("low acid: pressure canner only; weighed in the pod"),
    _("ratio fresh to dried 10.7 to 1"),
    _("low acid: pressure canner only; weighed without tops"),
    _("ratio fresh to dried 10.0 to 1"),
    _("3 tablespoons salt to each 5 lb; 3-4 weeks at 70-75 F, 5-6 weeks at 60-65 F"),
    _("ratio fresh to dried 8.7 to 1"),
    _("ratio fresh to dried 16.0 to 1"),
    _("ratio fresh to dried 8.0 to 1"),
    _(
        "5% vinegar; cut off blossom end; boiling-water canner 10 min pints, 15 min quarts at "
        "0-1000 ft"
    ),
    _("5% vinegar; 15 min pints at 0-1000 ft"),
    _(
        "do not lower the acid or raise the share of peppers and onions; 15 min pints at "
        "0-1000 ft (memory)"
    ),
    _("ratio fresh to dried 14.7 to 1"),
    _("low acid: pressure canner only; weighed in the husk"),
    _("ratio fresh to dried 7.2 to 1"),
    _("wide variation; table figure is 100 lb per 100 ft"),
    _("higher than the table above; caged or staked"),
    _("wide variation; table figure is 120 lb per 100 ft"),
    _("wide variation; table figure is 150 lb per 100 ft"),
    _("wide variation; table figure is 20 lb per 100 ft"),
    _("wide variation; table figure is 40 lb per 100 ft"),
    _("wide variation; table figure is 75 lb per 100 ft"),
    _("wide variation; table figure is 45 lb per 100 ft (source range 40-50)"),
    _("wide variation; table figure is 50 lb per 100 ft"),
    _("wide variation; table figure is 30 lb per 100 ft"),
    _("wide variation; table figure is 60 lb per 100 ft"),
)

CAUTIONS = (
    _(
        "Tomatoes (whole, crushed, juice, sauce): add 2 tablespoons bottled lemon juice or "
        "half a teaspoon citric acid per quart, half of that per pint; 4 tablespoons of 5% "
        "vinegar per quart is the alternative but changes flavour."
    ),
    _("Acid is needed for the pressure-canned tomato options as well."),
    _("Do not can tomatoes from dead or frost-killed vines."),
    _(
        "Plain vegetables are low acid (pH above 4.6) and must be processed in a pressure "
        "canner; a boiling-water bath does not reach 240 F."
    ),
    _(
        "Use tested recipes without changing proportions of vinegar, acid, vegetables or jar "
        "size; set time by altitude."
    ),
    _("Pickling vinegar must be 5% acidity."),
    _("Can pumpkin and winter squash only as cubes, never as puree."),
    _("Keep home-made garlic or herbs in oil refrigerated and use within days; botulism risk."),
    _("Raw sprouts: see cautions.md; do not sprout garden seed of unknown treatment."),
)

_KNOWN = frozenset([*SECTIONS, *PRODUCTS, *BASES, *FOODS, *UNITS, *NOTES, *CAUTIONS])


def said(text: str) -> str:
    """A word or sentence of the tables; any other text, and none at all, as it is."""
    return gettext(text) if text in _KNOWN else text
