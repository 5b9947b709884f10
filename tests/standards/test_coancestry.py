"""The coancestry recursion against Wright's paths, printed series, and dropped genes."""

import random
from functools import cache

import numpy as np
import pytest

from library.science.genetics import gene_diversity, heterozygosity_after_selfing

# A pedigree in the words of a chain: every individual is a clone of one seed of a cross.


def pedigree(parents, of):
    """The chain of an individual, from a mapping of each to its two parents (or None)."""
    lots = {}
    for name, couple in parents.items():
        if couple is None:
            lots[f"seed of {name}"] = {}
        else:
            mother, father = couple
            lots[f"seed of {name}"] = {
                "parents": {mother: 1},
                "pollen_parents": {father: 1},
                "mating": "cross",
                "plants": 1,
                "pollen_plants": 1,
            }
        lots[name] = {"parents": {f"seed of {name}": 1}, "mating": "clonal", "plants": 1}
    return {"lot": of, "lots": lots}


def wrights_paths(parents, individual):
    """F = sum over the paths through a common ancestor A of (1/2)^n (1 + F_A), n the
    individuals on the path from one parent to the other.

    Wright 1922, American Naturalist 56:330-338. Written apart from the recursion: it lists
    every path, and a path counts only if it meets no individual twice.
    """

    def ways_up(name):
        yield (name,)
        for parent in parents[name] or ():
            for way in ways_up(parent):
                yield (name, *way)

    @cache
    def inbreeding(name):
        if parents[name] is None:
            return 0.0
        mother, father = parents[name]
        return sum(
            0.5 ** (len(one) + len(other) - 1) * (1 + inbreeding(one[-1]))
            for one in ways_up(mother)
            for other in ways_up(father)
            if one[-1] == other[-1] and not set(one[:-1]) & set(other[:-1])
        )

    return inbreeding(individual)


FULL_SIBS = {"A": None, "B": None, "C": ("A", "B"), "D": ("A", "B"), "X": ("C", "D")}
HALF_SIBS = {
    "A": None,
    "B": None,
    "E": None,
    "C": ("A", "B"),
    "D": ("A", "E"),
    "X": ("C", "D"),
}
PARENT_AND_CHILD = {"A": None, "B": None, "C": ("A", "B"), "X": ("A", "C")}
GRANDPARENT = {
    "A": None,
    "B": None,
    "E": None,
    "C": ("A", "B"),
    "D": ("C", "E"),
    "X": ("A", "D"),
}
UNCLE_AND_NIECE = FULL_SIBS | {"E": None, "N": ("D", "E"), "X": ("C", "N")}
COUSINS = FULL_SIBS | {
    "E": None,
    "G": None,
    "H": ("C", "E"),
    "I": ("D", "G"),
    "X": ("H", "I"),
}
DOUBLE_COUSINS = {
    "A": None,
    "B": None,
    "E": None,
    "G": None,
    "C": ("A", "B"),
    "D": ("A", "B"),
    "H": ("E", "G"),
    "I": ("E", "G"),
    "J": ("C", "H"),
    "K": ("D", "I"),
    "X": ("J", "K"),
}
INBRED_ANCESTOR = FULL_SIBS | {
    # X of full sibs (F = 1/4) is itself the common ancestor of half sibs: 1/8 (1 + 1/4)
    "P": None,
    "Q": None,
    "Y": ("X", "P"),
    "Z": ("X", "Q"),
    "W": ("Y", "Z"),
}


@pytest.mark.parametrize(
    ("parents", "individual", "known"),
    [
        # Falconer & Mackay 1996, ch. 5, and any genetics text (from memory)
        pytest.param(FULL_SIBS, "X", 1 / 4, id="full sibs"),
        pytest.param(HALF_SIBS, "X", 1 / 8, id="half sibs"),
        pytest.param(PARENT_AND_CHILD, "X", 1 / 4, id="parent and child"),
        pytest.param(GRANDPARENT, "X", 1 / 8, id="grandparent and grandchild"),
        pytest.param(UNCLE_AND_NIECE, "X", 1 / 8, id="uncle and niece"),
        pytest.param(COUSINS, "X", 1 / 16, id="first cousins"),
        pytest.param(DOUBLE_COUSINS, "X", 1 / 8, id="double first cousins"),
        pytest.param(INBRED_ANCESTOR, "W", 5 / 32, id="half sibs by an inbred parent"),
    ],
)
def test_textbook_pedigrees_have_their_known_inbreeding(parents, individual, known):
    assert wrights_paths(parents, individual) == known
    assert gene_diversity(pedigree(parents, individual)).inbreeding == pytest.approx(known)


@pytest.mark.parametrize("seed", range(12))
def test_random_pedigrees_with_paths_of_uneven_length_agree_with_wrights_paths(seed):
    draw = random.Random(seed)
    parents = dict.fromkeys("ABC")
    for n in range(11):
        parents[f"I{n}"] = tuple(draw.sample(list(parents)[-6:], 2))

    found = gene_diversity(pedigree(parents, "I10"))

    assert found.inbreeding == pytest.approx(wrights_paths(parents, "I10"))


def full_sib_mating(generations):
    parents = {"M0": None, "F0": None}
    for n in range(1, generations + 2):
        parents[f"M{n}"] = parents[f"F{n}"] = (f"M{n - 1}", f"F{n - 1}")
    return pedigree(parents, f"M{generations + 1}")


def backcrossing(generations):
    parents = {"A": None, "B0": None}
    for n in range(1, generations + 2):
        parents[f"B{n}"] = ("A", f"B{n - 1}")
    return pedigree(parents, f"B{generations + 1}")


def selfing(generations):
    lots = {"0": {}}
    for n in range(1, generations + 1):
        lots[str(n)] = {"parents": {str(n - 1): 1}, "plants": 1, "mating": "selfing"}
    return {"lot": str(generations), "lots": lots}


@pytest.mark.parametrize(
    ("mated", "printed"),
    [
        # Falconer & Mackay 1996, table 5.1, first generations (from memory)
        (selfing, [0.500, 0.750, 0.875, 0.938, 0.969, 0.984]),
        (
            full_sib_mating,
            [0.250, 0.375, 0.500, 0.594, 0.672, 0.734, 0.785, 0.826, 0.859, 0.886],
        ),
        (backcrossing, [0.250, 0.375, 0.438, 0.469, 0.484, 0.492]),
    ],
)
def test_regular_inbreeding_runs_through_the_printed_series(mated, printed):
    found = [gene_diversity(mated(n)).inbreeding for n in range(1, len(printed) + 1)]

    assert found == pytest.approx(printed, abs=0.0005001)


@pytest.mark.parametrize("generation", range(1, 9))
def test_a_hybrid_of_two_pure_lines_loses_half_with_each_selfing(generation):
    pure = {"inbreeding": 1, "coancestry": 1}
    cross = {"parents": {"A": 1}, "pollen_parents": {"B": 1}, "mating": "cross", "plants": 5}
    lots = {"A": pure, "B": pure, "F1": cross | {"pollen_plants": 5}}
    for n in range(2, generation + 1):
        lots[f"F{n}"] = {"parents": {f"F{n - 1}": 1}, "mating": "selfing", "plants": 40}

    found = gene_diversity({"lot": f"F{generation}", "lots": lots})

    assert 1 - found.inbreeding == heterozygosity_after_selfing(generation)


@pytest.mark.parametrize("rate", [0.1, 0.5, 0.9, 0.95])
def test_a_partly_selfing_line_loses_what_its_effective_size_says(rate):
    # Ne = N / (1 + F): Crow & Kimura 1970; Pollak 1987 (from memory). It is exact once
    # the inbreeding has settled, so long as stands are not tiny.
    lots = {"0": {"selfing_rate": rate}}
    for n in range(1, 31):
        lots[str(n)] = {"parents": {str(n - 1): 1}, "plants": 40, "selfing_rate": rate}

    found = gene_diversity({"lot": "30", "lots": lots})

    size = 40 / (1 + rate / (2 - rate))
    assert found.kept == pytest.approx((1 - 1 / (2 * size)) ** 30, rel=0.01)
    assert found.harmonic_mean_size == pytest.approx(size)


# Gene dropping: every gene of a deposit gets its own name and is followed down by chance.

RUNS, DRAWN = 3000, 16


class GeneDrop:
    """Grows a chain ``RUNS`` times over. Written apart from the recursion: plants are drawn,
    mated and counted, and no probability of descent is ever worked out.
    """

    def __init__(self, lots, seed):
        self.lots, self.chance = lots, np.random.default_rng(seed)
        self.names, self.stands = 0, {}
        for name, lot in lots.items():
            if lot.get("parents") and lot["mating"] != "bulk":
                self.stands[name] = self.stand(lot)

    def stand(self, lot):
        if lot["mating"] == "dioecious":
            sides = [("parents", lot["females"]), ("parents", lot["males"])]
        elif lot["mating"] == "cross":
            sides = [("parents", lot["plants"]), ("pollen_parents", lot["pollen_plants"])]
        else:
            sides = [("parents", lot["plants"])]
        return [self.mixture(lot[parents], plants) for parents, plants in sides]

    def mixture(self, shares, count):
        """So many seeds of lots mixed by their shares, for each run."""
        which = self.chance.choice(len(shares), size=(RUNS, count), p=list(shares.values()))
        seeds = [self.seeds(name, count) for name in shares]
        return np.choose(which[..., None], seeds)

    def seeds(self, name, count):
        """So many seeds of a lot, for each run: its two genes."""
        lot = self.lots[name]
        if not lot.get("parents"):
            return self.new_genes(count, lot.get("inbreeding", 0.0))
        if lot["mating"] == "bulk":
            return self.mixture(lot["parents"], count)
        stand = self.stands[name]
        mothers = self.chance.integers(stand[0].shape[1], size=(RUNS, count))
        if lot["mating"] == "clonal":
            return np.take_along_axis(stand[0], mothers[..., None], axis=1)
        fathers = self.fathers(lot, stand, mothers)
        return np.stack(
            [self.gametes(stand[0], mothers), self.gametes(stand[-1], fathers)], axis=-1
        )

    def fathers(self, lot, stand, mothers):
        plants = stand[-1].shape[1]
        anyone = self.chance.integers(plants, size=mothers.shape)
        if len(stand) == 2 or lot.get("selfing_rate") is None:
            return anyone
        another = (mothers + self.chance.integers(1, plants, size=mothers.shape)) % plants
        selfed = self.chance.random(mothers.shape) < lot["selfing_rate"]
        return np.where(selfed, mothers, another)

    def gametes(self, stand, plants):
        genes = np.take_along_axis(stand, plants[..., None], axis=1)
        side = self.chance.integers(2, size=plants.shape)
        return np.take_along_axis(genes, side[..., None], axis=2)[..., 0]

    def new_genes(self, count, inbreeding):
        genes = self.names + np.arange(RUNS * count * 2).reshape(RUNS, count, 2)
        self.names += genes.size
        inbred = self.chance.random((RUNS, count)) < inbreeding
        genes[..., 1] = np.where(inbred, genes[..., 0], genes[..., 1])
        return genes

    def measured(self, name):
        """The gene diversity and the inbreeding of a lot, each with its standard error."""
        seeds = self.seeds(name, DRAWN)
        genes = self.gametes(seeds, np.tile(np.arange(DRAWN), (RUNS, 1)))
        differ = (genes[:, ::2] != genes[:, 1::2]).mean(axis=1)
        alike = (seeds[..., 0] == seeds[..., 1]).mean(axis=1)
        return [(run.mean(), run.std(ddof=1) / RUNS**0.5) for run in (differ, alike)]


def random_lots(seed):
    """A graph of lots with every kind of mating, bulks, and several ways to one ancestor."""
    draw = random.Random(seed)
    lots = {"D0": {}, "D1": {"inbreeding": 0.6}}
    for n in range(12):
        shares = random_shares(draw, list(lots)[-5:])
        mating = draw.choice(
            ["outcrossing", "outcrossing", "selfing", "dioecious", "cross", "clonal", "bulk"]
        )
        lot = {"parents": shares, "mating": mating, "plants": draw.randint(2, 9)}
        if mating == "selfing":
            lot["selfing_rate"] = draw.choice([0.0, 0.4, 0.9, 1.0])
        if mating == "dioecious":
            lot |= {"males": draw.randint(1, 4), "females": draw.randint(1, 9)}
        if mating == "cross":
            lot |= {"pollen_parents": random_shares(draw, list(lots)[-5:])}
            lot["pollen_plants"] = draw.randint(1, 5)
        lots[f"L{n}"] = lot
    return lots | {
        "end": {"parents": random_shares(draw, list(lots)[-4:], 3), "mating": "bulk"}
    }


def random_shares(draw, lots, of=None):
    chosen = draw.sample(lots, of or min(len(lots), draw.choice([1, 1, 2, 3])))
    parts = [draw.randint(1, 5) for _ in chosen]
    return {lot: part / sum(parts) for lot, part in zip(chosen, parts, strict=True)}


def test_dropped_genes_agree_with_the_recursion_on_random_graphs_with_bulking():
    misses = []
    for seed in range(25):
        lots = random_lots(seed)
        found = gene_diversity({"lot": "end", "lots": lots})
        (differ, differ_by), (alike, alike_by) = GeneDrop(lots, seed).measured("end")
        misses.append((found.gene_diversity - differ) / differ_by)
        misses.append((found.inbreeding - alike) / alike_by)

    # In standard errors: their mean square is 1 give or take 0.2, and none is far out.
    assert max(abs(miss) for miss in misses) < 4
    assert np.mean(np.square(misses)) == pytest.approx(1, abs=0.6)
    assert abs(np.mean(misses)) < 0.5


def test_dropped_genes_tell_a_graph_from_a_line():
    # Two branches of one narrow lot, bulked: the narrow lot counts in full, the branches less.
    lots = {
        "D": {},
        "narrow": {"parents": {"D": 1}, "mating": "outcrossing", "plants": 4},
        "one": {"parents": {"narrow": 1}, "mating": "outcrossing", "plants": 6},
        "other": {"parents": {"narrow": 1}, "mating": "outcrossing", "plants": 6},
        "longer": {"parents": {"other": 1}, "mating": "outcrossing", "plants": 6},
        "end": {"parents": {"one": 0.5, "longer": 0.5}, "mating": "bulk"},
    }
    as_a_line = (1 - 1 / 8) * (1 - 1 / 12) ** 1.5

    found = gene_diversity({"lot": "end", "lots": lots}).gene_diversity
    (differ, error), _ = GeneDrop(lots, 1).measured("end")

    assert abs(found - differ) < 3 * error
    assert abs(as_a_line - differ) > 6 * error
