"""The words of fixtures/reference/species.csv and viability_constants.csv, to be translated."""

from __future__ import annotations

from django.utils.translation import gettext_noop as _

from library.catalogue.reference_words.crops import pgettext

COMMON_NAMES = (
    pgettext("species", "common bean"),
    pgettext("species", "runner bean"),
    pgettext("species", "broad bean / fava bean"),
    pgettext("species", "pea"),
    pgettext("species", "cowpea"),
    pgettext("species", "soybean"),
    pgettext("species", "tomato"),
    pgettext("species", "sweet/hot pepper"),
    pgettext("species", "habanero type pepper"),
    pgettext("species", "eggplant"),
    pgettext("species", "tomatillo"),
    pgettext("species", "ground cherry"),
    pgettext("species", "potato"),
    pgettext("species", "cucumber"),
    pgettext("species", "melon"),
    pgettext("species", "watermelon"),
    pgettext("species", "summer squash / zucchini / pumpkin"),
    pgettext("species", "winter squash"),
    pgettext("species", "butternut squash"),
    pgettext("species", "bottle gourd"),
    pgettext("species", "lettuce"),
    pgettext("species", "radish"),
    pgettext("species", "turnip"),
    pgettext("species", "cabbage / kale / broccoli / kohlrabi"),
    pgettext("species", "mustard"),
    pgettext("species", "Siberian kale / rape kale"),
    pgettext("species", "arugula"),
    pgettext("species", "spinach"),
    pgettext("species", "beet / chard"),
    pgettext("species", "quinoa"),
    pgettext("species", "amaranth"),
    pgettext("species", "carrot"),
    pgettext("species", "parsnip"),
    pgettext("species", "parsley"),
    pgettext("species", "celery"),
    pgettext("species", "cilantro / coriander"),
    pgettext("species", "dill"),
    pgettext("species", "fennel"),
    pgettext("species", "onion"),
    pgettext("species", "leek"),
    pgettext("species", "chives"),
    pgettext("species", "garlic"),
    pgettext("species", "basil"),
    pgettext("species", "corn / maize"),
    pgettext("species", "sorghum"),
    pgettext("species", "okra"),
    pgettext("species", "sunflower"),
    pgettext("species", "morning glory"),
    pgettext("species", "moonflower"),
    pgettext("species", "marigold"),
    pgettext("species", "zinnia"),
    pgettext("species", "nasturtium"),
    pgettext("species", "sweet pea"),
    pgettext("species", "sweet potato"),
    pgettext("species", "wheat"),
    pgettext("species", "barley"),
    pgettext("species", "oat"),
    pgettext("species", "rye"),
    pgettext("species", "rice"),
)

BREEDING = (
    _(
        "cleistogamous in habit, occasional insect crosses; grow varieties apart or with a "
        "barrier crop"
    ),
    _(
        "cross-pollinated by bees; crosses freely between runner varieties, rarely with common "
        "bean"
    ),
    _(
        "partly outcrossing by bees (roughly a third, very variable); treat as an outcrosser "
        "when purity matters"
    ),
    _("exserted-style, potato-leaf and currant types cross more; use bags or more distance"),
    _("bees cross varieties; crosses also with C. chinense and C. frutescens; cage or bag"),
    _("crosses with C. annuum; cage or bag"),
    _("self-incompatible: grow at least two plants for any fruit"),
    _("kept true only by tubers; true seed segregates; plant certified disease-tested tubers"),
    _("hand-pollinate taped female flowers to keep pure"),
    _("hand-pollinate to keep pure; does not cross with cucumber or watermelon"),
    _("crosses with citron melon"),
    _(
        "hand-pollinate taped female flowers; never save seed where ornamental gourds flowered "
        "nearby (bitter, poisonous fruit)"
    ),
    _("hand-pollinate; a separate species from C. pepo and C. moschata"),
    _("hand-pollinate; a separate species from C. pepo and C. maxima"),
    _("night-flowering, moth-pollinated; hand-pollinate"),
    _("may cross with wild prickly lettuce (L. serriola)"),
    _("self-incompatible; crosses with wild radish"),
    _(
        "self-incompatible; crosses with Chinese cabbage, pak-choi and other B. rapa crops and "
        "with wild turnip"
    ),
    _("self-incompatible; all crops of the species cross with each other; needs vernalization"),
    _("crosses with rutabaga and oilseed rape, less with turnip"),
    _("self-incompatible"),
    _("dioecious: keep enough male plants"),
    _(
        'one "seed" is a cluster of several; beet, chard, sugar and fodder beet all cross; '
        "save from at least 6 roots by the old home rule"
    ),
    _("10-15% outcrossing by wind; crosses with lamb's quarters relatives"),
    _("self and wind pollinated; crosses with pigweed and between species; bag heads"),
    _("crosses with wild carrot (Queen Anne's lace): check the neighbourhood"),
    _("very short-lived seed; sap burns skin in sunlight"),
    _("crosses with celeriac and cutting celery"),
    _("short-lived seed; inbreeding depression"),
    _("true seed very rare; replant cloves or bulbils; watch for white rot and stem nematode"),
    _(
        "hand-pollinate with bags, or stagger flowering; severe inbreeding depression; sweet "
        "kernels change when pollinated by field corn"
    ),
    _("crosses with Sudan grass and johnsongrass"),
    _("hard seed; bees cause some crossing; bag flowers"),
    _("largely self-incompatible; crosses with wild sunflower; bag heads"),
    _("mixed mating; seed toxic if eaten; weed law in some states"),
    _("hawkmoth-pollinated; the name is also used for Datura, which is far more poisonous"),
    _("T. erecta types outcross, T. patula types largely self"),
    _("seed poisonous; hard seed"),
    _("kept true only by slips or roots; plant quarantine applies in many regions"),
)

LIFE_CYCLES = (
    _("annual"),
    _("perennial (tuberous; grown as annual)"),
    _("annual (tender perennial)"),
    _("perennial (tubers replanted yearly)"),
    _("biennial"),
    _("biennial (broccoli annual)"),
    _("perennial (often grown as annual or biennial)"),
    _("perennial"),
    _("perennial (cloves replanted yearly)"),
    _("perennial (slips replanted yearly)"),
)

DOUBTS = (
    _("longevity taken from the general bean row"),
    _(
        'federal kind "Pepper" and test row assumed to cover Capsicum spp.; no thousand-seed '
        "weight found"
    ),
    _('federal kind "Tomato, husk" is Physalis pubescens; applied here by analogy'),
    _("species mean in the source is light for garden varieties"),
    _("no separate first count in the federal table as remembered"),
    _("certified figure is for oilseed rape, not the kale form"),
    _(
        "the garden chart gives a much larger figure in its damaged copy, so the general wind "
        "rule is used"
    ),
    _('the record "dulce 49.0 g" in the same source is rejected as an error'),
    _(
        "thousand-seed weight in the weight source (11021 g) is an error and was rejected; 7 "
        "CFR 201.46 remembered as about 55 seeds per gram"
    ),
)

FIGURES = (
    _("orthodox"),
    _("vegetative"),
    _("20-30 alternating; 25"),
    _("20-30 alternating"),
    _("20-30 alternating; 20"),
    _("15-25 alternating; 20"),
    _("20-30 alternating; 30"),
    _(
        "final count only; if hypocotyl collar rot is seen, retest with 0.3-0.6% calcium "
        "nitrate solution; hard seeds may be present"
    ),
    _("hard seeds may be present"),
    _(
        "18 C is desirable; if fresh or dormant: prechill at 10 C for 3 days; hard seeds may "
        "be present"
    ),
    _("if fresh or dormant: light; KNO3"),
    _("if fresh or dormant: light and KNO3"),
    _("light; KNO3"),
    _("keep substratum on the dry side"),
    _("keep substratum on the dry side; if fresh or dormant: test at 30 C"),
    _(
        "light; final count only; if fresh or dormant: prechill at 10 C for 3 days or test at "
        "15 C"
    ),
    _("if fresh or dormant: prechill at 5 or 10 C for 3 days; KNO3 and light"),
    _("light; if fresh or dormant: prechill at 10 C for 7 days and test for 5 more days; KNO3"),
    _("soak 2 hours in water, wash in running water, blot; water not below 20 C"),
    _("prechill; KNO3"),
    _("light"),
    _("alternate method: sand or soil, 20 C, counts at 6 and 12 days"),
    _(
        "if fresh or dormant: grain varieties prechill at 5 or 10 C for 5 days; sweet "
        "varieties test at 30-45 C (45 C for 2-4 hours a day)"
    ),
    _("hard seed: pierce or chip the coat"),
    _("hard seed: chip or soak (common practice)"),
    _("light; prechill"),
    _("prechill"),
    _("if fresh or dormant: prechill at 5 or 10 C for 5 days, or predry"),
    _("prechill at 5 or 10 C for 5 days and test for 7 days, or predry and test for 10 days"),
    _(
        "alternate method: moist sand, from day 7 water 1/4 inch above the sand, final count "
        "only; if fresh or dormant: presoak (24-48 hours in 40 C water)"
    ),
    _("between blotters; paper towel; in sand or soil; on creped cellulose"),
    _("between blotters; paper towel; in sand or soil"),
    _("in sand or soil; creped cellulose"),
    _("between blotters; covered petri dish; blotters with raised cover; paper towel"),
    _("on blotters; blotters with raised cover; paper towel"),
    _("covered petri dish; on blotters; blotters with raised cover; paper towel"),
    _("covered petri dish; on blotters"),
    _("covered petri dish"),
    _("between blotters; paper towel"),
    _("between blotters; covered petri dish; paper towel"),
    _("on blotters; paper towel"),
    _("between blotters; paper towel; on sand or soil"),
    _("paper towel; between blotters"),
    _("paper towel; in sand or soil"),
)

CONSTANTS = (
    _(
        "single-temperature experiment; CH and CQ are the universal values 0.0329 and 0.000478 "
        "(Dickie et al. 1990)"
    ),
)
