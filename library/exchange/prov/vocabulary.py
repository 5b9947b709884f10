"""The names in a chain's PROV document: W3C's own, and those of ours that it lacks.

PROV-DM (W3C Recommendation, 30 April 2013) names things and relations, PROV-JSON (W3C member
submission, 24 April 2013) how they stand in a file. ``sowback:`` names mean:

On an entity, a lot: ``head`` (true on the one that the file is about), ``number`` (at its own
library), ``variety``, ``crop``, ``species`` (botanical name), ``breedingStatus``,
``generation`` (2 for F2), ``origin`` (deposit, return, bulk), ``harvestYear``, ``receivedOn``,
``region``, ``story``. On an activity, the making of a lot: ``plantsSown``, ``plantsStood``,
``plantsGaveSeed``, ``pollenPlants``, ``isolation``, ``isolationDistanceM`` (metres),
``selection``, ``roguing``. On a derivation: ``share``, the parent's part of the lot, above 0
up to 1. On a library: ``name``, ``place``. On a person: ``displayName``, as they chose it.
"""

from __future__ import annotations

PROV = "http://www.w3.org/ns/prov#"
XSD = "http://www.w3.org/2001/XMLSchema#"
SOWBACK = "tag:sowback.example,2026:chain#"
LOT = "urn:uuid:"

# PROV-JSON takes the prefixes prov and xsd for known (section 2.2).
PREFIXES = {"lot": LOT, "sowback": SOWBACK}

IS_LOT = "sowback:Lot"
GROW_OUT = "sowback:GrowOut"
BULKING = "sowback:Bulking"
DIVIDING = "sowback:Dividing"  # a part of another library's lot, nothing grown in between
DEPOSITOR = "sowback:Depositor"  # how a person who agreed to be named is related to a lot
ORGANIZATION = "prov:Organization"
PERSON = "prov:Person"

# The facts of how a lot was grown, by the names of our rows.
GROWN = {
    "plants_sown": "sowback:plantsSown",
    "plants_stood": "sowback:plantsStood",
    "plants_gave_seed": "sowback:plantsGaveSeed",
    "pollen_plants": "sowback:pollenPlants",
    "isolation": "sowback:isolation",
    "isolation_distance_m": "sowback:isolationDistanceM",
    "selection": "sowback:selection",
    "roguing": "sowback:roguing",
}
