"""A chain written as PROV-JSON: what stands in it, and what never does."""

from __future__ import annotations

import datetime as dt
import json
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from library.exchange.prov.reading import read_chain
from library.exchange.prov.writing import as_text, chain_document
from library.provenance.chain import chain_up
from library.stock.models import Lot, LotParent

UUID = re.compile("[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")


def document_of(lot: Lot) -> dict:
    return chain_document(chain_up(lot))


def test_each_lot_is_an_entity_by_its_own_identifier(chain_of_all):
    document = document_of(chain_of_all)

    identifiers = {f"lot:{lot.identifier}" for lot in Lot.objects.all()}
    assert len(identifiers) == 6
    assert set(document["entity"]) == identifiers
    heads = [key for key, facts in document["entity"].items() if "sowback:head" in facts]
    assert heads == [f"lot:{chain_of_all.identifier}"]
    assert document["prefix"] == {
        "lot": "urn:uuid:",
        "sowback": "tag:sowback.example,2026:chain#",
    }


def test_a_lot_elsewhere_is_told_as_there(chain_of_all):
    document = document_of(chain_of_all)

    facts = document["entity"]["lot:0b6d2b6e-6f7e-4c0b-9a58-111111111111"]
    assert (facts["sowback:number"], facts["sowback:origin"]) == ("FC-7", "deposit")
    [owner] = [
        relation["prov:agent"]
        for relation in document["wasAttributedTo"].values()
        if relation["prov:entity"] == "lot:0b6d2b6e-6f7e-4c0b-9a58-111111111111"
    ]
    assert document["agent"][owner]["sowback:name"] == "Ford Common Seeds"


def test_shares_are_the_chains_to_six_decimals(chain_of_all):
    document = document_of(chain_of_all)

    written = {
        (r["prov:generatedEntity"], r["prov:usedEntity"]): r["sowback:share"]
        for r in document["wasDerivedFrom"].values()
    }
    kept = {
        (f"lot:{link.child.identifier}", f"lot:{link.parent.identifier}"): {
            "$": f"{link.share:.6f}",
            "type": "xsd:decimal",
        }
        for link in LotParent.objects.select_related("child", "parent")
    }
    assert written == kept
    assert {value["$"] for value in kept.values()} == {"1.000000", "0.333333", "0.666667"}


def test_making_says_how_it_came_about(chain_of_all):
    document = document_of(chain_of_all)

    kinds = {}
    for lot in Lot.objects.filter(parent_links__isnull=False).distinct():
        made = document["activity"][f"sowback:made-{lot.identifier}"]
        kinds.setdefault((lot.origin, made["prov:type"]["$"]), []).append(lot)
    assert {pair: len(lots) for pair, lots in kinds.items()} == {
        ("deposit", "sowback:Dividing"): 1,
        ("return", "sowback:GrowOut"): 2,
        ("bulk", "sowback:Bulking"): 1,
    }
    grown = kinds["return", "sowback:GrowOut"][0]
    made = document["activity"][f"sowback:made-{grown.identifier}"]
    assert made["sowback:plantsGaveSeed"] == 30
    assert made["sowback:isolationDistanceM"] == 120
    assert "sowback:roguing" not in made  # nothing was told of it


def test_people_are_told_by_chosen_names_and_only_who_agreed(chain_of_all):
    document = document_of(chain_of_all)

    names = {
        facts["sowback:displayName"]
        for facts in document["agent"].values()
        if facts["prov:type"]["$"] == "prov:Person"
    }
    assert names == {"Rook", "Old Tam"}
    people = [f for f in document["agent"].values() if f["prov:type"]["$"] == "prov:Person"]
    assert all(set(facts) == {"prov:type", "sowback:displayName"} for facts in people)


@pytest.mark.parametrize(
    "secret",
    [
        "@",
        "example.org",
        "54.40",
        "54°",
        "3.10",
        "7946",
        "Behind the mill",
        "Mill Lane",
        "key under",
        "Lower Beck plot",
        "Giver",
    ],
)
def test_nothing_private_stands_in_it(chain_of_all, secret):
    # Identifiers are made by chance, so that any four digits may stand in one.
    text = UUID.sub("", as_text(document_of(chain_of_all)))

    assert secret not in text
    assert "1962 to 2019, 2.5 kg" in text  # the rest of the story


def test_a_name_that_is_an_address_is_no_name_to_tell(chain_of_all, grower):
    grower.display_name = "rook@example.org"
    grower.save()

    assert "rook" not in as_text(document_of(chain_of_all)).casefold()


def test_the_library_is_the_same_one_in_every_file(chain_of_all, make_lot, community):
    one, other = document_of(chain_of_all), document_of(make_lot())

    assert f"sowback:library-{community.identifier}" in one["agent"]
    assert list(other["agent"]) == [f"sowback:library-{community.identifier}"]
    assert set(other) == {"prefix", "entity", "agent", "wasAttributedTo"}


def test_each_fact_is_on_a_line_of_its_own(chain_of_all):
    document = document_of(chain_of_all)
    text = as_text(document)

    assert json.loads(text) == document
    for key in (*document["entity"], *document["wasDerivedFrom"]):
        assert sum(f'    "{key}": {{' == line for line in text.splitlines()) == 1


def test_the_queries_do_not_grow_with_the_chain(chain_of_all):
    short = Lot.objects.filter(origin="return").order_by("pk").first()
    counts = []
    for lot in (short, chain_of_all):
        with CaptureQueriesContext(connection) as queries:
            document = document_of(lot)
        counts.append((len(document["entity"]), len(queries)))
    assert counts == [(2, counts[0][1]), (6, counts[0][1])]


def test_our_own_reader_reads_of_it_what_our_rows_say(chain_of_all):
    text = as_text(document_of(chain_of_all))

    told = read_chain(text.encode(), on=dt.date(2026, 11, 20))

    assert told.head == chain_of_all.identifier
    assert set(told.lots) == set(Lot.objects.values_list("identifier", flat=True))
    for lot in Lot.objects.kept_here().select_related("growing", "grower"):
        read = told.lots[lot.identifier]
        assert (read.number, read.variety) == (lot.number, lot.variety.name)
        assert (read.origin, read.harvest_year) == (lot.origin, lot.harvest_year)
        assert (read.received_on, read.library) == (lot.received_on, "Tarn Hollow Seed Library")
        shares = {link.parent.identifier: link.share for link in lot.parent_links.all()}
        assert {link.parent: link.share for link in read.parents} == shares
        if lot.origin == "return":
            assert read.grower_name == "Rook"
            assert read.growing["plants_gave_seed"] == 30
