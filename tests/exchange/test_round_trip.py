"""What one library writes of a lot's chain, another reads: the same chain, the same measures.

Random chains (from memory: common practice of property tests): deposits, grow-outs of up to
three parents, bulks, parts of a lot elsewhere, with facts known or not.
"""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from library.exchange import services
from library.exchange.prov.writing import as_text, chain_document
from library.provenance.chain import came_about, chain_up, growing_of
from library.provenance.measuring import chain_data
from library.science.genetics import gene_diversity
from library.stock import services as stock
from library.stock.checks import problems
from library.stock.models import Isolation, Lot

COUNTS = ["plants_sown", "plants_stood", "plants_gave_seed", "isolation_distance_m"]
TEXT = st.text("abc äß<&\"'\\{}:é", max_size=20).map(str.strip)
TODAY = dt.date(2026, 11, 20)


@st.composite
def plans(draw):
    """Lots in order: how each came about, from which earlier ones, and what is known of it."""
    made = []
    for n in range(draw(st.integers(1, 9))):
        origin = draw(st.sampled_from(["deposit", "return", "bulk"])) if n else "deposit"
        parents = []
        if origin != "deposit":
            least = 2 if origin == "bulk" and n > 1 else 1
            parents = draw(
                st.lists(st.integers(0, n - 1), min_size=least, max_size=3, unique=True)
            )
        shares = [draw(st.integers(1, 50)) for _ in parents]
        counts = sorted(draw(st.lists(st.integers(1, 90), min_size=3, max_size=3)))
        growing = {
            "plants_sown": counts[2],
            "plants_stood": counts[1],
            "plants_gave_seed": counts[0],
            "isolation": draw(st.sampled_from(Isolation.values)),
            "selection": draw(TEXT),
            "roguing": draw(TEXT),
        }
        known = draw(st.sets(st.sampled_from(sorted(growing))))
        made.append(
            {
                "origin": origin,
                "parents": parents,
                "shares": shares,
                "growing": {name: growing[name] for name in sorted(known)},
                "year_known": draw(st.booleans()),
                "region": draw(TEXT),
                "story": draw(TEXT),
            }
        )
    return made


def live(plan, variety, desk) -> Lot:
    """The lots of a plan in a library, oldest first; the newest of them."""
    lots: list[Lot] = []
    for n, step in enumerate(plan):
        shares = stock.receiving.split_shares(step["shares"]) if step["shares"] else []
        lots.append(
            stock.receive_lot(
                variety=variety,
                origin=step["origin"],
                parents=[(lots[i], s) for i, s in zip(step["parents"], shares, strict=True)],
                harvest_year=2010 + n if step["year_known"] else None,
                on=dt.date(2010 + n, 10, 1),
                by=desk,
                seeds=100,
                origin_region=step["region"],
                origin_story=step["story"],
                growing=step["growing"] or None,
            )
        )
    return lots[-1]


def told(chain) -> dict:
    """All that a chain says, by the lots' own identifiers."""
    names = {lot.pk: str(lot.identifier) for lot in chain.order}
    return {
        names[lot.pk]: {
            "number": lot.foreign.number if lot.is_elsewhere else lot.number,
            "variety": lot.variety_id,
            "came about": came_about(lot),
            "harvest": lot.harvest_year,
            "received": lot.received_on,
            "region": lot.origin_region,
            "story": lot.origin_story,
            "share": round(chain.relative(lot).share, 9),
            "depths": (chain.relative(lot).nearest, chain.relative(lot).farthest),
            "parents": {
                names[link.parent]: link.share for link in chain.parents.get(lot.pk, [])
            },
            "growing": grown(lot),
        }
        for lot in chain.order
    }


def grown(lot) -> dict:
    growing = growing_of(lot)
    names = [*COUNTS, "isolation", "selection", "roguing"]
    facts = {name: getattr(growing, name) for name in names} if growing else {}
    return {k: v for k, v in facts.items() if v not in (None, "", Isolation.UNKNOWN)}


@pytest.fixture
def emptied(db):
    """``with emptied():`` what is written inside is gone after it, as in another library."""

    class Gone(Exception):
        pass

    def run(job):
        got = []
        try:
            with transaction.atomic():
                got.append(job())
                raise Gone
        except Gone:
            return got[0]

    return run


@settings(
    max_examples=15,
    deadline=None,  # judged by what it finds, not by how fast the machine is
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(plan=plans())
def test_a_chain_that_was_carried_away_and_brought_in_is_the_same(plan, emptied, variety, desk):
    def here():
        chain = chain_up(live(plan, variety, desk))
        text = as_text(chain_document(chain))
        return text, told(chain), gene_diversity(chain_data(chain))

    def there():
        assert not Lot.objects.exists()
        made, _seen = services.preview_chain(content=text, by=desk, on=TODAY)
        lot = services.receive_chain(chain_import=made, by=desk, on=TODAY, seeds=50)
        (link,) = lot.parent_links.select_related("parent")
        chain = chain_up(Lot.objects.get(pk=link.parent_id))
        assert list(problems()) == []
        again = as_text(chain_document(chain))
        return told(chain), gene_diversity(chain_data(chain)), again

    text, ours, measured = emptied(here)
    theirs, measured_there, again = emptied(there)

    assert theirs == ours
    assert measured_there.gene_diversity == pytest.approx(measured.gene_diversity)
    assert measured_there.generations == pytest.approx(measured.generations)
    assert measured_there.inbreeding == pytest.approx(measured.inbreeding)
    assert emptied(lambda: services.look_at(again, on=TODAY).chain.head is not None)
