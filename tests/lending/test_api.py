"""The desk over the API: what its three resources share."""

from __future__ import annotations

import pytest

from library.lending import services
from library.lending.models import LendingRules
from tests.lending.conftest import TODAY

pytestmark = pytest.mark.django_db


def test_nothing_of_the_desk_is_for_applicants_or_strangers(api, as_, applicant):
    places = [f"/api/{name}/" for name in ("loans", "deposits", "returns", "loans/guidance")]
    strangers = [api.get(place).status_code for place in places]

    applicants = [as_(applicant).get(place).status_code for place in places]

    assert (strangers, applicants) == ([401] * 4, [404] * 4)


@pytest.mark.parametrize("body", ["", "[]", "7", '"x"', "{", "null"])
@pytest.mark.parametrize("place", ["loans", "deposits", "returns"])
def test_a_body_that_is_no_object_is_refused(as_, member, counts, place, body):
    before = counts()

    response = as_(member).post(f"/api/{place}/", data=body, content_type="application/json")

    assert response.status_code == 400
    assert counts() == before


@pytest.mark.parametrize("how_many", [1, 6])
@pytest.mark.parametrize(
    ("resource", "queries"), [("loans", 3), ("deposits", 3), ("returns", 4)]
)
def test_a_list_costs_the_same_however_long_it_is(
    as_,
    desk,
    member,
    make_lot,
    make_variety,
    lend,
    how_many,
    resource,
    queries,
    django_assert_num_queries,
):
    LendingRules.objects.update_or_create(pk=1, defaults={"max_open_loans": 100})
    for _ in range(how_many):
        loan = lend(make_lot(make_variety(crop="drying bean"), packets=1).packets.get())
        services.propose_deposit(depositor=member, on=TODAY, variety=loan.packet.lot.variety)
        services.announce_return(
            member=member, loans=[loan], on=TODAY, by=member, harvest_year=2026
        )

    with django_assert_num_queries(queries):
        body = as_(desk).get(f"/api/{resource}/").json()

    assert body["count"] == how_many
