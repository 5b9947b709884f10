"""Our PROV-JSON, read by an implementation of the standard that is not ours.

Sources: PROV-DM, W3C Recommendation 30 April 2013; PROV-JSON, W3C member submission
24 April 2013, read by the ``prov`` library, whose warnings of what is not well formed fail
the test; PROV-CONSTRAINTS, W3C Recommendation 30 April 2013, from memory.
"""

from __future__ import annotations

import json

import pytest
from prov.model import (
    ProvDerivation,
    ProvDocument,
    ProvEntity,
    ProvGeneration,
    ProvUsage,
)

from library.catalogue.services import load_reference
from library.exchange.prov.vocabulary import SOWBACK
from library.exchange.prov.writing import as_text, chain_document
from library.provenance.chain import chain_up
from library.stock.models import Lot, LotParent
from tests.exchange.conftest import chain_of_all, community, grower  # noqa: F401


@pytest.fixture
def reference(db) -> None:
    """The species and crops in the database; the tables themselves are not read here."""
    load_reference()


@pytest.fixture
def text(chain_of_all):  # noqa: F811
    return as_text(chain_document(chain_up(chain_of_all)))


@pytest.fixture
def read(text) -> ProvDocument:
    return ProvDocument.deserialize(content=text, format="json")


def test_it_is_read_and_written_again_without_loss(text, read):
    again = ProvDocument.deserialize(content=read.serialize(format="json"), format="json")

    assert again == read
    records = sum(len(v) for name, v in json.loads(text).items() if name != "prefix")
    assert len(read.get_records()) == records


def test_every_lot_has_its_urn(read):
    uris = {entity.identifier.uri for entity in read.get_records(ProvEntity)}

    assert uris == {lot.identifier.urn for lot in Lot.objects.all()}


def test_shares_are_decimals_of_the_chain(read):
    shares = {}
    for derivation in read.get_records(ProvDerivation):
        generated, used, *_ = derivation.args
        [share] = derivation.get_attribute(f"{SOWBACK}share") or [None]
        shares[generated.uri, used.uri] = str(share.value if hasattr(share, "value") else share)
    kept = {
        (link.child.identifier.urn, link.parent.identifier.urn): str(link.share)
        for link in LotParent.objects.select_related("child", "parent")
    }
    assert shares == kept


def test_what_a_derivation_names_is_generated_and_used(read):
    """PROV-CONSTRAINTS, inference 11: a derivation by an activity implies both."""
    generated = {g.args[:2] for g in read.get_records(ProvGeneration)}
    used = {u.args[:2] for u in read.get_records(ProvUsage)}

    derivations = list(read.get_records(ProvDerivation))
    assert len(derivations) == LotParent.objects.count()
    for derivation in derivations:
        child, parent, activity, *_ = derivation.args
        assert (child, activity) in generated
        assert (activity, parent) in used


def test_nothing_is_generated_by_two_activities(read):
    """PROV-CONSTRAINTS, constraint 24: one generation of an entity by one activity."""
    entities = [g.args[0] for g in read.get_records(ProvGeneration)]

    assert len(entities) == len(set(entities))
