"""What the chains of the stories kept, measured."""

from __future__ import annotations

import pytest

from library.provenance.chain import chain_up
from library.provenance.measuring import measure
from library.stock.models import Lot

pytestmark = pytest.mark.usefixtures("demo")


def newest_of(name: str) -> Lot:
    return Lot.objects.filter(variety__name=name, origin="return").order_by("-pk")[0]


def test_two_plants_are_the_narrowest_place_of_every_bean_since():
    two = Lot.objects.get(variety__name="Fold Wall", growing__plants_gave_seed=2)

    found = measure(chain_up(newest_of("Fold Wall")))

    assert found.narrowest == two
    assert found.bottlenecks[0] == two
    # Broad bean, selfed in 80 % of its seeds: 1 - (1 + F) / (2 * 2) with F = 2/3.
    assert found.of(two).kept == pytest.approx(7 / 12)
    assert found.diversity.kept < 7 / 12


def test_the_line_that_was_grown_for_seven_summers_nearly_breeds_true():
    """(1/2)^(n - 1) of the F1's genes vary at Fn: any genetics text (from memory)."""
    line = measure(chain_up(newest_of("Lanthorn Amber"))).line

    assert line.counted
    assert line.generation >= 7
    assert line.heterozygosity == 0.5 ** (line.generation - 1)
    assert line.true_to(0.95) == 6


def test_every_lot_of_the_valley_can_be_measured():
    for lot in Lot.objects.all():
        found = measure(chain_up(lot))

        assert 0 <= found.diversity.kept <= 1 + 1e-9
        assert set(found.lots) == set(found.diversity.lots)
