"""What a chain kept, as a page and over the API."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import Community
from library.provenance import measuring
from library.provenance.chain import chain_up
from library.provenance.measuring import measure


def page(number: str) -> str:
    return reverse("lot-chain-measures", args=[number])


def endpoint(number: str) -> str:
    return reverse("api-lot-chain-measures", args=[number])


@pytest.fixture
def maize(make_variety):
    return make_variety("Field Lantern", crop="sweetcorn")


@pytest.fixture
def two_plants(note_lot, maize):
    """A deposit, a year on two plants, and two years on many."""
    note_lot("A", of=maize)
    note_lot("B", {"A": 1}, plants=2, harvest_year=2018, of=maize)
    note_lot("C", {"B": 1}, plants=60, of=maize)
    return note_lot("D", {"C": 1}, of=maize)


@pytest.fixture
def line(note_lot, make_variety):
    """The third generation of a cross."""
    hybrid = make_variety("Ashelm", crop="tomato", breeding_status="f1")
    card = make_variety(
        "Ashelm line", crop="tomato", breeding_status="segregating", generation=5
    )
    note_lot("F1", of=hybrid)
    note_lot("F2", {"F1": 1}, plants=12, of=card)
    return note_lot("F3", {"F2": 1}, plants=12, of=card)


def test_the_page_names_the_bottleneck_with_its_plants(client, two_plants):
    text = client.get(page("D")).content.decode()

    assert "2 plants gave seed" in text
    assert 'href="/lots/B/"' in text
    kept = (1 - 1 / 4) * (1 - 1 / 120) * (1 - 1 / 40)  # 20 assumed in the last year
    assert f"{100 * kept:.1f} %" in text


def test_page_and_endpoint_tell_the_same(client, api, two_plants):
    told = api.get(endpoint("D")).json()
    text = client.get(page("D")).content.decode()
    found = measure(chain_up(two_plants))

    assert told["gene_diversity_kept"] == found.diversity.kept
    assert told["narrowest"] == "B"
    assert [row["lot"] for row in told["grow_outs"]] == ["B", "C", "D"]
    assert [row["is_bottleneck"] for row in told["grow_outs"]] == [True, False, False]
    assert [row["plants_noted"] for row in told["grow_outs"]] == [True, True, False]
    assert told["alleles"] == [
        {
            "frequency": row.frequency,
            "kept": row.kept,
            "standard_error": row.standard_error,
            "genes": row.genes,
        }
        for row in found.alleles
    ]
    assert told["line"] is None
    for one in told["measures"]:
        assert one["value"] in text
        assert one["source"].split(":")[0].replace("&", "&amp;") in text
    for sentence in told["assumed"]:
        assert sentence in text


def test_a_deposit_has_all_that_was_brought_and_no_tables_of_losses(
    client, api, note_lot, maize
):
    note_lot("A", of=maize)

    text = client.get(page("A")).content.decode()

    assert "it has all that was brought" in text
    assert "Kept, generation by generation" not in text
    assert "Smallest grow-out" not in text
    assert api.get(endpoint("A")).json()["effective_size"] is None


def test_tubers_that_were_not_planted_are_a_loss_without_a_grow_out(
    client, note_lot, make_variety
):
    mixed = make_variety("Garth Mixed", crop="potato", breeding_status="landrace")
    note_lot("A", of=mixed, counted_as="tuber")
    note_lot("B", {"A": 1}, plants=2, of=mixed, counted_as="tuber")

    text = client.get(page("B")).content.decode()

    assert "75.0 % is left" in text
    assert "Kept, generation by generation" in text


def test_a_line_says_when_it_breeds_true_and_that_the_card_differs(client, api, line):
    text = client.get(page("F3")).content.decode()
    told = api.get(endpoint("F3")).json()["line"]

    assert "The variety&#x27;s card says F5" in text
    assert (told["generation"], told["heterozygosity"]) == (3, 0.25)
    assert [(r["level"], r["generation"]) for r in told["breeds_true"]] == [
        (0.95, 6),
        (0.99, 8),
    ]


def test_a_level_and_a_number_of_genes_can_be_asked_for(client, api, line):
    """genetics.md section 3: all of five genes at F6, 0.853215."""
    asked = {"level": "85.3", "genes": "5"}

    told = api.get(endpoint("F3"), asked).json()["line"]["breeds_true"]
    text = client.get(page("F3"), asked).content.decode()

    assert {"level": 0.853, "genes": 5, "generation": 6} in told
    assert "85.3 %" in text


@pytest.mark.parametrize("level", ["0", "100", "-1", "much", "NaN", "1e400", "\x00"])
def test_a_level_that_is_none_is_refused_in_a_sentence(client, api, line, level):
    assert client.get(page("F3"), {"level": level}).status_code == 400
    assert api.get(endpoint("F3"), {"level": level}).status_code == 400


def test_a_lot_that_is_not_there_is_not_found(client, api, db):
    assert client.get(page("L99999-9")).status_code == 404
    assert api.get(endpoint("L99999-9")).status_code == 404


def test_who_may_not_browse_is_not_told_of_other_lots_of_the_chain(
    client, api, two_plants, applicant
):
    """An applicant who keeps a lot sees that lot, and no chain."""
    Community.objects.update_or_create(pk=1, defaults={"catalogue_is_public": False})
    two_plants.custodian = applicant
    two_plants.save()
    client.force_login(applicant)
    api.force_authenticate(applicant)

    assert client.get(page("D")).status_code == 404
    assert api.get(endpoint("D")).status_code == 404


def test_more_lots_than_can_be_measured_are_refused_in_a_sentence(
    client, api, two_plants, monkeypatch
):
    monkeypatch.setattr(measuring, "MOST_LOTS", 3)

    answer = client.get(page("D"))

    assert answer.status_code == 400
    assert "4 lots led to D; up to 3" in answer.content.decode()
    assert api.get(endpoint("D")).status_code == 400


def test_a_short_and_a_long_chain_take_as_many_queries(client, api, note_lot, maize):
    note_lot("0", of=maize)
    counts = set()
    for length in (3, 30):
        for n in range(1 if length == 3 else 3, length):
            note_lot(str(n), {str(n - 1): 1}, plants=5, of=maize)
        for ask in (client.get, page), (api.get, endpoint):
            ask[0](ask[1](str(length - 1)))
            with CaptureQueriesContext(connection) as queries:
                ask[0](ask[1](str(length - 1)))
            counts.add((ask[1].__name__, len(queries)))

    assert len(counts) == 2
