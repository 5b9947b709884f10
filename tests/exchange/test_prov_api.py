"""A chain's file over the API, and the ways to it on the pages."""

from __future__ import annotations

import json

from django.urls import reverse
from django.utils import timezone

from accounts.services import save_community
from library.exchange.prov.writing import chain_document
from library.provenance.chain import chain_up


def test_the_file_is_the_chains_document(api, chain_of_all):
    answer = api.get(reverse("api-lot-prov", args=[chain_of_all.number]))

    assert answer["Content-Type"] == "application/json"
    named = f"{chain_of_all.number}-{timezone.localdate()}-prov.json"
    assert answer["Content-Disposition"] == f'attachment; filename="{named}"'
    assert json.loads(answer.content) == chain_document(chain_up(chain_of_all))


def test_a_german_reader_gets_the_same_file(api, chain_of_all):
    address = reverse("api-lot-prov", args=[chain_of_all.number])
    file = json.loads(api.get(address).content)

    assert f'"sowback:crop": "{chain_of_all.variety.crop.name}"' in json.dumps(file)
    assert json.loads(api.get(address, headers={"Accept-Language": "de"}).content) == file


def test_a_lot_that_is_not_there_has_no_file(api, db):
    assert api.get(reverse("api-lot-prov", args=["L00000-0"])).status_code == 404


def test_who_may_not_browse_gets_no_chain_not_even_of_their_own_lot(
    api, make_lot, applicant, administrator, member
):
    lot = make_lot(custodian=applicant)
    save_community(by=administrator, catalogue_is_public=False)
    address = reverse("api-lot-prov", args=[lot.number])

    assert api.get(address).status_code == 401
    api.force_authenticate(applicant)
    assert api.get(address).status_code == 404
    api.force_authenticate(member)
    assert api.get(address).status_code == 200


def test_the_story_has_the_ways_to_the_files(client, make_lot):
    lot = make_lot()

    page = client.get(reverse("lot-chain", args=[lot.number])).content.decode()

    assert reverse("api-lot-prov", args=[lot.number]) in page
    assert f"{reverse('api-mcpd')}?variety={lot.variety_id}" in page


def test_a_crops_page_has_the_way_to_its_lots(client, variety):
    page = client.get(variety.crop.get_absolute_url()).content.decode()

    assert f"{reverse('api-mcpd')}?crop={variety.crop.slug}" in page
