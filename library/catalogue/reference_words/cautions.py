"""The cautions of fixtures/reference/cautions.csv, to be translated.

A translation says what the English says, as strictly: nothing added and nothing softened.
"""

from __future__ import annotations

from django.utils.translation import gettext_noop as _

CAUTIONS = (
    _(
        "Taste a crumb of every fruit before you eat it or save its seed. If it is very "
        "bitter, spit it out, eat none of it and save no seed: bitterness in this family is "
        "poison (cucurbitacins), and cooking does not remove it."
    ),
    _(
        "A cross does not show in this year's fruit but in plants grown from its seed, whose "
        "fruit may be poisonously bitter. Save no seed where ornamental or wild gourds "
        "flowered nearby, unless the flowers were bagged and pollinated by hand, and eat "
        "nothing from self-sown squash."
    ),
    _(
        "Raw and undercooked beans make people ill, red kidney beans worst: four or five are "
        "enough. Soak dry beans at least 5 hours, pour the water away and boil them in fresh "
        "water; a slow cooker does not get hot enough."
    ),
    _(
        "This seed is for sowing. Do not eat it sprouted: germs on seed multiply in the warm "
        "and wet, and seed shared in a library is not tested for them. Children, older people, "
        "pregnant women and anyone with weak immunity should eat no raw sprouts at all."
    ),
    _(
        "Treated seed carries a pesticide. Never eat it, feed it or sprout it; keep it in its "
        "labelled packet, away from children, and wash your hands. Treated seed whose "
        "substance is not named is not accepted."
    ),
    _(
        "Sap on the skin can blister in sunlight, parsnip and celery above all: cover arms and "
        "legs when roguing or cutting seed heads."
    ),
    _(
        "Wild relatives that look alike can kill (poison hemlock). Only bring seed of this "
        "family from plants that you sowed and know, never seed gathered in the wild."
    ),
    _(
        "Green or sprouted tubers and the berries are poisonous (solanine): plant them or "
        "throw them away, do not eat them."
    ),
    _(
        "Viruses and blight travel in saved tubers. Some places allow only certified seed "
        "potatoes, or restrict moving tubers: check the local rules before lending or bringing "
        "any."
    ),
    _(
        "Roots and slips may be under quarantine because of the sweet-potato weevil: check the "
        "local rules before moving any."
    ),
    _(
        "White rot and stem nematode travel on cloves and bulbs. Look closely, discard any "
        "that are soft, mouldy or swollen, and grow new ones apart from your own in the first "
        "year."
    ),
    _(
        "Some diseases of this crop travel inside the seed. Save none from sick plants, and "
        "tell the library if a crop from its seed fell ill."
    ),
    _(
        "Ergot, black horn-like bodies among the grain, is poisonous to people and animals. "
        "Pick out every one, and eat no grain from a crop with ergot."
    ),
    _(
        "The seeds are poisonous (ergoline alkaloids) and large doses cause sickness and "
        "hallucinations. Keep packets away from children and pets."
    ),
    _(
        "Two plants are called moonflower. Datura, which is not this one, is deadly poisonous "
        "in all its parts: go by the botanical name, and accept no seed without it."
    ),
    _(
        "Sweet pea seeds look like peas and are poisonous: not for eating, and never stored "
        "among food peas."
    ),
    _(
        "Castor bean, angel's trumpet, foxglove, monkshood, larkspur, lupin, "
        "lily-of-the-valley and rosary pea have poisonous seed, some deadly in small amounts. "
        "Many libraries refuse them; if any is kept, it is locked away, labelled with its "
        "botanical name, and handed only to adults who know."
    ),
    _(
        "Seed saved from an F1 hybrid does not come true: its plants differ from the parent "
        "and from one another. The label must say that it is a hybrid."
    ),
    _(
        "Do not bring seed of a variety under plant variety protection, a patent or a "
        "contract: in many countries a gardener may save it for the own garden at most, and "
        "sharing it needs the owner's written permission."
    ),
    _(
        "Seed and plants sent across a border usually need an import permit or a plant health "
        "certificate. Ask the plant health office of the country it goes to before posting any."
    ),
    _(
        "Clean out weed seed before bringing seed in, above all dodder, bindweed, thistle, "
        "quackgrass and johnsongrass. Each state and country has its own list of plants and "
        "weeds that may not be moved or shared."
    ),
    _(
        "Whether and how seed may be shared without selling it, and what the packet must say, "
        "differs from state to state and country to country. This page is no legal advice: ask "
        "the local seed control office."
    ),
    _(
        "When you preserve the harvest, follow tested recipes: acidify tomatoes, and "
        "pressure-can low-acid vegetables; a boiling-water bath does not make those safe."
    ),
)
