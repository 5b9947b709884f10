"""How many seeds: to sow, to put in a packet, to keep in reserve; and between seeds and
grams.
"""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from fractions import Fraction
from typing import SupportsFloat

from library.science.numbers import number, whole_number

MOST_PLANTS = 1_000_000
LEAST_CHANCE = 0.001
MOST_LOST = 0.99


def seeds_to_sow(
    plants: int,
    germination: SupportsFloat,
    confidence: SupportsFloat,
    survival: SupportsFloat = 1.0,
) -> int:
    """Return the fewest seeds that give at least so many plants with at least the stated
    confidence.

    Units: germination, survival (of seedlings to plants) and confidence are fractions. Ranges:
    plants 1 to 1 000 000; germination and survival above 0 to 1, their product at least 0.001;
    confidence strictly between 0 and 1. Raises ValueError outside them. Source: exact binomial
    distribution, P(X >= plants) >= confidence; seeds are taken to be independent.
    """
    chance = _chance(number(germination, "Germination"), number(survival, "Survival"))
    plants = whole_number(plants, "The number of plants wanted")
    confidence = number(confidence, "Confidence")
    _check_plants(plants)
    if not 0 < confidence < 1:
        raise ValueError(f"Confidence lies between 0 and 1, such as 0.9, not {confidence:g}.")
    from scipy.special import betainc

    def enough(seeds: int) -> bool:
        return bool(betainc(plants, seeds - plants + 1, chance) >= confidence)

    too_few, most = plants - 1, plants
    while not enough(most):
        too_few, most = most, most * 2
    while most - too_few > 1:
        middle = (too_few + most) // 2
        too_few, most = (too_few, middle) if enough(middle) else (middle, most)
    return most


def seeds_for_stand(
    *,
    plants: int,
    germination: SupportsFloat,
    losses: SupportsFloat = 0.0,
    confidence: SupportsFloat = 0.95,
) -> int:
    """Return the seeds to sow for a stand of so many plants, when a share of the seedlings is
    expected to be lost to birds, slugs and weather.

    That is what `seeds_to_sow` says for the germination alone, multiplied by what the losses
    call for: where birds take seven seedlings in eight, exactly eight times the seed. Losses
    strike a bed as a whole, so they are an expectation and not drawn for each seedling; the
    confidence is that of the germination. (For losses that are drawn for each seedling give
    `seeds_to_sow` a survival.)

    Units and ranges as seeds_to_sow; losses a fraction from 0 to 0.99. Raises ValueError
    outside them. Source: seeds_to_sow; dividing by the share that is left is arithmetic.
    """
    lost = number(losses, "Losses")
    if not 0 <= lost <= MOST_LOST:
        raise ValueError(f"Losses are a fraction from 0 to {MOST_LOST}, not {lost:g}.")
    undisturbed = seeds_to_sow(plants=plants, germination=germination, confidence=confidence)
    # Written out, 0.2 is a fifth; as a float it is a little more, and rounds up to a seed more.
    return math.ceil(undisturbed / (1 - Fraction(str(lost))))


def packet_size(
    *,
    plants: int,
    germination: float,
    confidence: float = 0.9,
    survival: SupportsFloat = 0.8,
    step: int = 5,
) -> int:
    """Return how many seeds to put in a packet that should give so many plants, in whole steps.

    Units and ranges as seeds_for_stand, with survival = 1 - losses; step 1 to 1000 seeds,
    rounded up to. Raises ValueError outside them. Source: seeds_for_stand; the defaults (9
    packets in 10 suffice, a fifth of the seedlings lost to birds, slugs and weather, packets of
    five) are common practice, no source.
    """
    if not 1 <= step <= 1000:
        raise ValueError(f"Packets are rounded to steps of 1 to 1000 seeds, not {step}.")
    seeds = seeds_for_stand(
        plants=plants,
        germination=germination,
        losses=1 - Decimal(str(number(survival, "Survival"))),
        confidence=confidence,
    )
    return -(-seeds // step) * step


def reserve_seeds(
    *, min_population: int, germination: float, confidence: float = 0.95, sowings: int = 2
) -> int:
    """Return the seeds a library must not lend, to be able to regrow the variety so many times.

    Units and ranges as seeds_to_sow; sowings 1 to 20, each with its own stated confidence.
    Raises ValueError outside them. Source: seeds_to_sow at the smallest population that keeps
    the variety; two sowings, so that one may fail, is common practice (FAO Genebank Standards
    2014, 4.4.1, regenerate at fewer than three, from memory).
    """
    if not 1 <= sowings <= 20:
        raise ValueError(f"A reserve covers 1 to 20 sowings, not {sowings}.")
    return sowings * seeds_to_sow(
        plants=min_population, germination=germination, confidence=confidence
    )


def seeds_from_weight(*, grams: float, thousand_seed_weight_g: float) -> int:
    """Return how many seeds weigh so much, rounded down: seed that may not be there is not
    counted.

    Units: grams. Ranges: grams 0 to 1 000 000; thousand_seed_weight_g above 0 to 100 000.
    Raises ValueError outside them. Source: definition of the thousand-seed weight.
    """
    if not 0 <= grams <= 1_000_000:
        raise ValueError(f"A weight of seed is 0 to 1 000 000 grams, not {grams}.")
    weight = _weight(thousand_seed_weight_g)
    seeds = (Decimal(str(grams)) * 1000 / weight).to_integral_value(ROUND_FLOOR)
    return int(seeds)


def weight_of_seeds(*, seeds: int, thousand_seed_weight_g: float) -> float:
    """Return what so many seeds weigh in grams, rounded up to 0.01 g, so that enough are
    weighed out.

    Units: grams. Ranges: seeds 0 to 100 000 000; thousand_seed_weight_g above 0 to 100 000.
    Raises ValueError outside them. Source: definition of the thousand-seed weight.
    """
    if not 0 <= seeds <= 100_000_000:
        raise ValueError(f"A count of seeds is 0 to 100 000 000, not {seeds}.")
    grams = seeds * _weight(thousand_seed_weight_g) / 1000
    return float(grams.quantize(Decimal("0.01"), ROUND_CEILING))


def _chance(germination: float, survival: float) -> float:
    """The chance that one seed becomes a plant."""
    for what, share in (("Germination", germination), ("Survival", survival)):
        if not 0 <= share <= 1:
            raise ValueError(f"{what} is a fraction from 0 to 1, such as 0.85, not {share:g}.")
    chance = germination * survival
    if chance < LEAST_CHANCE:
        raise ValueError(
            "Fewer than 1 seed in 1000 would become a plant: no sensible number of seeds is "
            "enough. "
            "Use another lot."
        )
    return chance


def _check_plants(plants: int) -> None:
    if not 1 <= plants <= MOST_PLANTS:
        raise ValueError(f"Plants wanted are 1 to {MOST_PLANTS}, not {plants}.")


def _weight(thousand_seed_weight_g: float) -> Decimal:
    if not 0 < thousand_seed_weight_g <= 100_000:
        raise ValueError(
            "A thousand seeds weigh more than 0 and at most 100 000 grams, "
            f"not {thousand_seed_weight_g}."
        )
    return Decimal(str(thousand_seed_weight_g))
