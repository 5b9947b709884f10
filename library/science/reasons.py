"""Why a number is what it is: a key for the translator, the inputs, the source, and an English
sentence.

The pages translate by ``key``; ``ENGLISH`` lists every key there is, so that a test can insist
that each has a translation. Inputs are plain text, numbers and truth values (a date is ISO 8601
text), so that a reason can be kept in a JSON column and read back years later, when the rule
may have changed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

Scalar = str | int | float | bool | None

COMMON_PRACTICE = "common practice, no source"

ENGLISH: dict[str, str] = {
    # germination
    "first_test": (
        "Seed received on {received_on} is tested for the first time within {within_days} days."
    ),
    # viability
    "moisture_measured": "The seed was measured to hold {percent:g} % moisture.",
    "moisture_from_humidity": (
        "Seed in air of {humidity_percent:g} % humidity at {temperature_c:g} °C comes to about "
        "{percent:g} % moisture."
    ),
    "moisture_beyond_isotherm": (
        "Seed in air of {humidity_percent:g} % humidity at {temperature_c:g} °C is taken to "
        "hold {percent:g} % moisture; such air is outside what was published, so measure it."
    ),
    "moisture_assumed": (
        "Nobody measured the humidity: the seed is taken to have been closed up in a room of "
        "{humidity_percent:g} %, which leaves it at {percent:g} % moisture."
    ),
    # a lot's way through its storage
    "age_from_harvest": (
        "Harvested in {harvest_year}: its age is counted from about {stored_on}."
    ),
    "age_from_receipt": (
        "Nobody knows when it was harvested: its age is counted from the day it came, "
        "{stored_on}, and it may be older."
    ),
    "storage_before_receipt": (
        "Where it lay until {received_on} was not noted: an ordinary room of "
        "{temperature_c:g} °C and {humidity_percent:g} % humidity is assumed."
    ),
    "storage_of_bulk": (
        "Bulked on {received_on}: until then it is taken to have lain where the largest of its "
        "parts lay."
    ),
    "storage_place_unknown": (
        "Nobody noted where it lay from {since_on}: an ordinary room of {temperature_c:g} °C "
        "and {humidity_percent:g} % humidity is assumed."
    ),
    "storage_at_home": (
        "A member kept it from {since_on}: an ordinary room of {temperature_c:g} °C and "
        "{humidity_percent:g} % humidity is assumed."
    ),
    "temperature_assumed": (
        "Nobody measured how warm it was where it lay from {since_on} ({kind}): "
        "{temperature_c:g} °C is assumed."
    ),
    "moisture_sealed_in": (
        "Cold from {since_on}, in air that nobody measured: sealed up, the seed keeps the "
        "{percent:g} % moisture that it had."
    ),
    # lots that nothing can predict
    "clonal_season": (
        "Tubers, cloves and slips keep one season and are planted again: what is still there "
        "a year after harvest is looked at again by {due_on}."
    ),
    "clonal_overdue": (
        "Tubers, cloves and slips keep one season, and that is over: plant them now; what is "
        "still kept is looked at again by {due_on}."
    ),
    "not_orthodox": (
        "Seed of this species ({storage_behaviour}) does not keep dry and cold, so nothing "
        "here can predict it: sow it soon, and test what is kept by {due_on}."
    ),
    "unpredicted_clonal": (
        "Counted in tubers, cloves or slips, which keep one season: the equation for dry seed "
        "says nothing of them."
    ),
    "unpredicted_behaviour": (
        "Seed of this species ({storage_behaviour}) does not keep dry and cold: the equation "
        "for dry seed does not hold for it."
    ),
    "longevity_constants": "How fast it dies is published for this species.",
    "longevity_class": (
        "No rate is published for this species; it is said to keep about {longevity_years:g} "
        "years, cool and dry."
    ),
    "longevity_unknown": (
        "Nothing is published on how long this species keeps; {longevity_years:g} years, cool "
        "and dry, are assumed."
    ),
    "retest_chance": (
        "Stored as it is, the chance that at least {standard_percent:g} % of it is alive falls "
        "below {level_percent:g} % on {falls_on}: test it by {due_on}."
    ),
    "retest_third_of_prediction": (
        "It is expected to fall to 85 % of its first viability in {predicted_years:g} years: "
        "test it again after a third of that, by {due_on}."
    ),
    "retest_no_prediction": (
        "Nothing published predicts how long it keeps: test it again after no more than "
        "{years:g} years, by {due_on}."
    ),
    "retest_longest": (
        "It is expected to keep very long, but no lot goes untested for more than {years:g} "
        "years: test it by {due_on}."
    ),
    "retest_before_sowing": (
        "It is wanted for a grow-out on {sowing_on}, and what is known of it is not sure "
        "enough to say how much to sow: test it by {due_on}."
    ),
    "retest_not_sooner": (
        "Its viability is not sure, but a test costs seed and this one was tested on "
        "{tested_on}: leave {wait_days} days between, and test it by {due_on}."
    ),
    "retest_below_standard": (
        "The chance that at least {standard_percent:g} % of it is alive is only "
        "{chance_percent:g} %: it should not be lent, and if it is kept, test it by {due_on}."
    ),
    "regrow_below_standard": (
        "The chance that at least {standard_percent:g} % of it is alive is only "
        "{chance_percent:g} %: regrow it while some of it lives."
    ),
    "regrow_below_initial": (
        "About {median_percent:g} % of it is alive, less than 85 % of the "
        "{initial_percent:g} % with which it began: regrow it."
    ),
    # calendar
    "season_fits": "Seed needs {days_needed} days and has {days_available}.",
    "season_too_short": "Seed needs {days_needed} days and has only {days_available}.",
    "sow_any_time": "No frost sets the time here; sow as rain and heat allow.",
    "sow_around_last_frost": "Counted from the last spring frost, about {last_frost}.",
    "sow_to_ripen_before_frost": (
        "Counted from the last spring frost, about {last_frost}, and early enough for seed to "
        "ripen before the first autumn frost, about {first_frost}."
    ),
    "plant_in_autumn": (
        "Planted from the first autumn frost, about {first_frost}, before the ground freezes; "
        "it stands over winter and is lifted in summer."
    ),
    "plant_in_spring": (
        "The autumn in which it is usually planted is past: as soon as the ground can be "
        "worked, and by the last spring frost, about {last_frost}."
    ),
    "ripe_after_days": "Sown on {sown_on}, seed needs {days_needed} days.",
    "ripe_by_frost": (
        "Sown on {sown_on}, seed needs {days_needed} days, but frost comes first, about "
        "{first_frost}."
    ),
    "ripe_after_winter": (
        "Planted on {sown_on}, it needs {days_needed} days; it is not lifted before the last "
        "spring frost, about {last_frost}."
    ),
    "ripe_biennial": (
        "A biennial sown on {sown_on} gives seed in its second year, about {ripe_on}."
    ),
    "ripe_perennial": (
        "A perennial sown on {sown_on} gives its first seed in its second year, about "
        "{ripe_on}."
    ),
    # the steps of a grow-out
    "milestone_sown": (
        "Sown two weeks after the last spring frost, about {last_frost}, or earlier where seed "
        "would not ripen before the autumn."
    ),
    "milestone_sown_first_year": (
        "Seed comes in the second year: sown so that it grows 90 days before its first winter; "
        "the last spring frost is about {last_frost}."
    ),
    "milestone_sown_any_time": "No frost sets the time: sown 90 days into the year.",
    "milestone_sown_unknown": "Nobody said when it freezes there: sown by the end of June.",
    "milestone_sown_autumn": (
        "It stands over winter: planted about two weeks after the first frost of the autumn "
        "before, about {first_frost}."
    ),
    "milestone_sown_autumn_unknown": (
        "It stands over winter, and nobody said when it freezes there: planted by the end of "
        "October of the year before."
    ),
    "milestone_sown_spring": (
        "Promised on {promised_on}, after the autumn in which it is usually planted: planted "
        "as soon as the ground can be worked, by the last spring frost, about {last_frost}."
    ),
    "milestone_sown_late": "Promised on {promised_on}: sown within two weeks of that.",
    "milestone_stand": "{days:g} days after sowing what came up can be counted.",
    "milestone_stand_spring": (
        "It was planted before the winter: what came up can be counted once the last spring "
        "frost, about {last_frost}, is past."
    ),
    "milestone_rogued": (
        "Off-types go before they shed pollen: {days:g} days before flowering, about "
        "{flowering_on}."
    ),
    "milestone_isolated": (
        "It flowers about {days:g} days before its seed is ripe, about {ripe_on}: bags, cage "
        "or distance must be there by then."
    ),
    "milestone_harvested": "Sown about {sown_on}, its seed is ripe about {ripe_on}.",
    "milestone_cleaned": "{days:g} days after harvest to dry, thresh and clean.",
    "milestone_returned": "{days:g} days after harvest to bring it in.",
    "due_growout": (
        "Promised as a grow-out: seed is ripe about {ripe_on} and brought in {days:g} days "
        "later."
    ),
    "due_annual": (
        "An annual lent on {lent_on} and sown about {sown_on} has ripe seed about "
        "{seed_ripe_on}; {grace_days} days more are for drying and cleaning."
    ),
    "due_biennial": (
        "A biennial lent on {lent_on} and sown about {sown_on} gives seed in its second year, "
        "about {seed_ripe_on}; {grace_days} days more are for drying and cleaning."
    ),
    "due_perennial": (
        "A perennial lent on {lent_on} and sown about {sown_on} gives its first seed in its "
        "second year, about {seed_ripe_on}; {grace_days} days more are for drying and "
        "cleaning."
    ),
    "due_clonal": (
        "Tubers, cloves or slips lent on {lent_on} and planted about {sown_on} are lifted "
        "about {seed_ripe_on}; {grace_days} days more are for curing."
    ),
    "due_annual_garden_unknown": (
        "The garden's frost dates are not known; an annual lent on {lent_on} has ripe seed "
        "within a year, by {seed_ripe_on}; {grace_days} days more are for drying and "
        "cleaning."
    ),
    "due_biennial_garden_unknown": (
        "The garden's frost dates are not known; a biennial lent on {lent_on} has ripe seed "
        "within two years, by {seed_ripe_on}; {grace_days} days more are for drying and "
        "cleaning."
    ),
    "due_perennial_garden_unknown": (
        "The garden's frost dates are not known; a perennial lent on {lent_on} has its first "
        "seed within two years, by {seed_ripe_on}; {grace_days} days more are for drying and "
        "cleaning."
    ),
    "due_clonal_garden_unknown": (
        "The garden's frost dates are not known; tubers, cloves or slips lent on {lent_on} "
        "are lifted within a year, by {seed_ripe_on}; {grace_days} days more are for curing."
    ),
    # isolation
    "isolation_clonal": (
        "Grown from tubers, cloves or slips, not from seed: pollen does not matter."
    ),
    "isolation_self": "It pollinates itself, and no distance is known to be needed.",
    "isolation_cage": (
        "A cage keeps other pollen out, if pollinators are brought in and none escape."
    ),
    "isolation_bag": "Bagged flowers keep other pollen out, if seed is saved from them alone.",
    "isolation_hand_pollination": (
        "Flowers closed and pollinated by hand keep other pollen out, if seed is saved from "
        "them alone."
    ),
    "isolation_no_neighbour_no_distance": (
        "No distance is known for this species, and no other planting of it is known."
    ),
    "isolation_no_distance": (
        "No distance is known for this species; {neighbour} is {distance_m:.9g} m away and "
        "may cross with it."
    ),
    "isolation_too_close": (
        "{neighbour} is {distance_m:.9g} m away, and {required_m:.9g} m are needed: "
        "{shortfall_m:.9g} m short."
    ),
    "isolation_flowering_unknown": (
        "{neighbour} is {distance_m:.9g} m away, {shortfall_m:.9g} m short of "
        "{required_m:.9g} m, and nobody has noted whether the two flower together."
    ),
    "isolation_unrecorded": (
        "Nobody noted how this planting was isolated; no other is known within "
        "{required_m:.9g} m."
    ),
    "isolation_none_known": (
        "No other planting of this species is known; {required_m:.9g} m are needed. Gardens "
        "that the library does not know may hold one."
    ),
    "isolation_far_enough": (
        "The nearest other planting known, {neighbour}, is {distance_m:.9g} m away; "
        "{required_m:.9g} m are needed."
    ),
    # purity of a chain
    "purity_distance_without_metres": (
        "It is said to have been isolated by distance, but nobody noted by how many metres; "
        "{required_m:.9g} m are needed."
    ),
    "purity_nothing_without_metres": (
        "Nothing was done to keep it from crossing, and nobody noted how far the nearest other "
        "was; {required_m:.9g} m are needed."
    ),
    "purity_known_planting": (
        "Another planting of the species that is known was nearer than the {required_m:.9g} m "
        "that are needed."
    ),
    "purity_known_planting_flowering": (
        "Another planting of the species that is known was nearer than the {required_m:.9g} m "
        "that are needed, and nobody noted whether the two flowered together."
    ),
    # genetics of a chain
    "chain_plants_assumed": (
        "Nobody noted how many plants gave seed for {lot}: {plants} are assumed."
    ),
    "chain_plants_as_stood": (
        "Nobody noted how many plants gave seed for {lot}: all {plants} that stood are taken "
        "to have."
    ),
    "chain_males_assumed": (
        "Nobody noted how many male plants shed pollen for {lot}: {males} are assumed beside "
        "{females} females."
    ),
    "chain_pollen_plants_assumed": (
        "Nobody noted how many plants gave pollen for {lot}: {males} are assumed, as many as "
        "gave seed."
    ),
    "chain_lone_plant": (
        "A single plant gave seed for {lot}: it is taken to have pollinated itself."
    ),
    "chain_shares_equal": (
        "Nobody noted how much of each of {lots} lots went into {lot}: equal parts are assumed."
    ),
    "chain_deposit_inbred": (
        "{lot} was deposited of a crop that pollinates itself in {selfing_percent:g} % of "
        "its seeds: it is taken to be {inbreeding_percent:.3g} % inbred."
    ),
    "chain_deposit_f1": (
        "{lot} is an F1 hybrid: its seeds are taken to be children of two pure lines, all "
        "alike."
    ),
    "chain_deposit_segregating": (
        "{lot} is of a line that was an F1 once, and F{generation} by its card: it is taken to "
        "descend from one F1 without loss since."
    ),
    "chain_deposit_clone": (
        "{lot} is a clone: every plant of it is taken to carry the same genes, so that none is "
        "lost however few are planted."
    ),
    "chain_selfing_rate": (
        "This crop pollinates itself: {selfing_percent:g} % of its seeds are taken to come "
        "from a plant's own pollen."
    ),
    "chain_selfing_rate_mostly": (
        "This crop mostly pollinates itself: {selfing_percent:g} % of its seeds are taken to "
        "come from a plant's own pollen."
    ),
    "chain_cross_sides": (
        "{lot} was made by a cross, and nobody noted which parent was the mother: {mother} is "
        "taken to be."
    ),
    "chain_cross_half_known": (
        "{lot} was made by a cross of which one parent is not in the chain: what that parent "
        "brought is not counted."
    ),
    "chain_deposits_unrelated": (
        "Deposits made independently are taken to be unrelated, as nothing is known of what "
        "came before them."
    ),
}


@dataclass(frozen=True)
class Reason:
    """A rule that was applied: its key, the numbers that went in, and who published it."""

    key: str
    inputs: Mapping[str, Scalar]
    source: str

    def __post_init__(self) -> None:
        if self.key not in ENGLISH:
            raise ValueError(f"There is no reason called {self.key!r}.")

    @property
    def sentence(self) -> str:
        """The reason in English, for logs and tests; pages translate by ``key``."""
        return ENGLISH[self.key].format(**self.inputs)

    def as_record(self) -> dict[str, object]:
        """Return a JSON-ready record, for keeping beside the number it explains."""
        return {"key": self.key, "inputs": dict(self.inputs), "source": self.source}


def because(key: str, source: str, **inputs: Scalar | date) -> Reason:
    """Make a Reason, writing dates among the inputs as ISO 8601 text."""
    plain: dict[str, Scalar] = {
        name: value.isoformat() if isinstance(value, date) else value
        for name, value in inputs.items()
    }
    return Reason(key=key, inputs=plain, source=source)
