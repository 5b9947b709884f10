"""Walking a chain: every lot once, with its share by all ways and the length of each."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from library.catalogue.models import Crop, Species, Variety
from library.provenance.walking import ancestors_of, descendants_of
from library.stock.models import Lot, LotParent

SHARES = ([Fraction(1)], [Fraction(1, 4), Fraction(3, 4)], [Fraction(1, 2)] * 2)


@pytest.fixture
def chain(variety):
    """``chain(A=(), B=("A",), C=("A", "B"))`` makes lots with equal shares of their parents."""

    def make(**parents: tuple[str, ...]) -> dict[str, Lot]:
        lots = {name: bare_lot(variety, name) for name in parents}
        for name, of in parents.items():
            LotParent.objects.bulk_create(
                LotParent(child=lots[name], parent=lots[parent], share=Decimal(1) / len(of))
                for parent in of
            )
        return lots

    return make


def bare_lot(variety: Variety, number: str) -> Lot:
    return Lot.objects.create(
        number=number, variety=variety, origin="deposit", received_on=dt.date(2020, 1, 1)
    )


def found(walk, lots):
    names = {lot.pk: name for name, lot in lots.items()}
    return {
        names[r.lot]: (r.nearest, r.farthest, round(r.share, 6))
        for r in walk.relatives.values()
    }


def test_a_deposit_has_no_ancestors_and_the_last_lot_no_descendants(chain):
    lots = chain(A=(), B=("A",))

    assert found(ancestors_of(lots["A"]), lots) == {}
    assert found(descendants_of(lots["B"]), lots) == {}


def test_a_line_is_walked_to_its_ends(chain):
    lots = chain(A=(), B=("A",), C=("B",), D=("C",))

    assert found(ancestors_of(lots["D"]), lots) == {
        "C": (1, 1, 1.0),
        "B": (2, 2, 1.0),
        "A": (3, 3, 1.0),
    }
    assert found(descendants_of(lots["B"]), lots) == {"C": (1, 1, 1.0), "D": (2, 2, 1.0)}


def test_one_ancestor_by_two_ways_of_different_length_counts_once_with_both_shares(chain):
    lots = chain(A=(), B=("A",), X=(), C=("B", "X"), D=("A", "C"))

    assert found(ancestors_of(lots["D"]), lots) == {
        "A": (1, 3, 0.75),
        "B": (2, 2, 0.25),
        "X": (2, 2, 0.25),
        "C": (1, 1, 0.5),
    }
    assert found(descendants_of(lots["A"]), lots) == {
        "B": (1, 1, 1.0),
        "C": (2, 2, 0.5),
        "D": (1, 3, 0.75),
    }


def test_a_chain_bulked_again_and_again_is_walked_lot_by_lot_not_way_by_way(chain):
    """Two to the power of sixty ways lead to the first lots."""
    parents: dict[str, tuple[str, ...]] = {"A0": (), "B0": ()}
    for n in range(1, 61):
        parents[f"A{n}"] = parents[f"B{n}"] = (f"A{n - 1}", f"B{n - 1}")
    lots = chain(**parents)

    walk = found(ancestors_of(lots["A60"]), lots)

    assert len(walk) == 120
    assert walk["B0"] == (60, 60, 0.5)


def test_lots_of_other_chains_are_not_met(chain):
    lots = chain(A=(), B=("A",), other=(), child=("other",))

    assert set(found(ancestors_of(lots["B"]), lots)) == {"A"}


@pytest.mark.parametrize("length", [2, 400])
def test_one_query_however_long_the_chain(chain, length):
    names = [f"L{n}" for n in range(length)]
    lots = chain(**{names[0]: ()}, **{child: (parent,) for parent, child in pairwise(names)})

    with CaptureQueriesContext(connection) as queries:
        up, down = ancestors_of(lots[names[-1]]), descendants_of(lots[names[0]])

    assert len(queries) == 2
    assert len(up.relatives) == len(down.relatives) == length - 1


def test_nearest_first_and_of_equal_shares_the_older_lot(chain):
    lots = chain(A=(), B=(), C=("A",), D=("C", "B", "A"))

    order = [r.lot for r in ancestors_of(lots["D"]).nearest_first()]

    assert order == [lots["A"].pk, lots["B"].pk, lots["C"].pk]


class AgainstListingEveryWay(TestCase):
    """On small random graphs both walks agree with listing every way there is."""

    @classmethod
    def setUpTestData(cls):
        species = Species.objects.create(
            botanical_name="Testa testa",
            slug="testa",
            common_name="test",
            family="Fabaceae",
            pollination="self",
        )
        crop = Crop.objects.create(
            species=species, name="test", slug="test", life_cycle="annual"
        )
        cls.variety = Variety.objects.create(
            crop=crop, name="Test", folded_name="test", breeding_status="open-pollinated"
        )

    @settings(max_examples=40, deadline=None)
    @given(st.data())
    def test_both_directions(self, data):
        lots = [bare_lot(self.variety, f"N{n}") for n in range(data.draw(st.integers(2, 9)))]
        parents: dict[int, list[tuple[int, Fraction]]] = {}
        for n, lot in enumerate(lots):
            shares = data.draw(st.sampled_from([[], *SHARES]))[:n]
            of = data.draw(st.permutations(range(n)))[: len(shares)]
            parents[n] = list(zip(of, shares, strict=True))
            for parent, share in parents[n]:
                LotParent.objects.create(
                    child=lot, parent=lots[parent], share=Decimal(str(float(share)))
                )
        keys = [lot.pk for lot in lots]

        for n, lot in enumerate(lots):
            up = {keys.index(r.lot): r for r in ancestors_of(lot).relatives.values()}
            ways = every_way(n, parents)
            assert {
                m: (r.nearest, r.farthest, pytest.approx(r.share)) for m, r in up.items()
            } == {m: summed(of) for m, of in ways.items()}
            for m in up:
                down = descendants_of(lots[m]).relatives[lot.pk]
                assert (down.nearest, down.farthest) == (up[m].nearest, up[m].farthest)
                assert down.share == pytest.approx(up[m].share)


def every_way(start, parents):
    """By ancestor every way there, as (length, share)."""
    ways = defaultdict(list)
    waiting = [(start, 0, Fraction(1))]
    while waiting:
        here, length, share = waiting.pop()
        for parent, part in parents[here]:
            ways[parent].append((length + 1, share * part))
            waiting.append((parent, length + 1, share * part))
    return ways


def summed(ways):
    lengths = [length for length, _share in ways]
    return min(lengths), max(lengths), float(sum(share for _length, share in ways))
