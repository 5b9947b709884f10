"""What could be lost: its pages, its chart and its API."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from library.catalogue.models import Variety
from library.errors import Refused
from library.growouts.models import Elsewhere, GrowOutRules
from library.growouts.risk import at_risk
from library.growouts.risk.bars import chart_of, parts_of
from library.growouts.risk.words import Keeper, Told, percent, told
from library.growouts.services.risk import change_growout_rules, record_elsewhere
from library.science.risk import Holding, Situation, chance_of_loss
from library.stock.services import add_storage_place
from tests.growouts.conftest import TODAY
from tests.pages import text_of

pytestmark = pytest.mark.django_db
LIST = "/grow-outs/risk/"


@pytest.fixture
def bean(make_variety) -> Variety:
    return make_variety("Tarn Kettle", crop="drying bean", is_rare=True)


@pytest.fixture
def two(bean, make_variety, make_lot, desk):
    """Tarn Kettle has no seed; Mill Loft has much of it, in a place of the library."""
    mill = make_variety("Mill Loft", crop="tomato")
    place = add_storage_place(name="Chapel loft", kind="room", by=desk)
    make_lot(mill, seeds=3000, harvest_year=2025, storage_place=place)
    return bean, mill


# The list


def test_the_likeliest_to_be_lost_comes_first_and_says_what_it_is_made_of(client, two, member):
    client.force_login(member)

    page = text_of(client.get(LIST))

    assert page.index("1. <a") < page.index("2. <a")
    assert page.index("Tarn Kettle</a>") < page.index("Mill Loft</a>")
    assert "Nobody keeps seed" in page
    assert "Seek living seed of it elsewhere" in page
    assert "common practice, no source" in page


@pytest.mark.parametrize(
    ("query", "shown"),
    [
        ("crop=tomato", {"Mill Loft"}),
        ("rare=true", {"Tarn Kettle"}),
        ("q=loft", {"Mill Loft"}),
        ("at_least=50", {"Tarn Kettle"}),
        ("one_place=true", {"Tarn Kettle", "Mill Loft"}),
        ("one_place=false", set()),
        ("nobody_grows=false", set()),
        ("sort=name", {"Tarn Kettle", "Mill Loft"}),
    ],
)
def test_the_list_shows_what_is_asked_for(client, two, member, query, shown):
    client.force_login(member)

    page = text_of(client.get(f"{LIST}?{query}"))

    assert {name for name in ("Tarn Kettle", "Mill Loft") if f"{name}</a>" in page} == shown


@pytest.mark.parametrize("query", ["years=0", "years=51", "years=x", "sort=no", "crop=no"])
def test_what_cannot_be_asked_is_said(client, two, member, query):
    client.force_login(member)

    answer = client.get(f"{LIST}?{query}")

    assert answer.status_code == 400
    assert "message error" in text_of(answer)


def test_looking_further_ahead_is_another_chance(client, two, member):
    client.force_login(member)

    near, far = (text_of(client.get(f"{LIST}?q=loft&years={n}")) for n in (1, 40))

    assert "within 1 year," in near
    assert "within 40 years," in far
    assert _chance(near) != _chance(far)


def _chance(page: str) -> str:
    found = re.search(r"<strong>([^<]* %)</strong>", page)
    assert found
    return found[1]


def test_where_in_the_library_seed_lies_is_for_its_desk(client, two, member, desk):
    _bean, mill = two

    def read(who) -> str:
        client.force_login(who)
        return text_of(client.get(LIST)) + text_of(client.get(f"{LIST}{mill.pk}/"))

    assert "Chapel loft" not in read(member)
    assert "Chapel loft" in read(desk)


@pytest.mark.parametrize("how_many", [1, 6])
def test_a_page_of_many_asks_as_little_as_a_page_of_one(
    how_many, client, member, make_variety, make_lot, django_assert_num_queries
):
    for _number in range(how_many):
        make_lot(make_variety(crop="drying bean"), seeds=900, harvest_year=2025)
    client.force_login(member)
    client.get(LIST)  # the rules are there then, and the lots remembered

    with django_assert_num_queries(27):
        client.get(LIST)


# One variety


def test_a_variety_shows_every_input(client, bean, make_lot, member, make_commitment):
    lot = make_lot(bean, seeds=2000, harvest_year=2024, custodian=member)
    make_commitment(bean, member, state="accepted")
    record_elsewhere(
        variety=bean, ease="doubtful", on=TODAY, by=member, note="One in the dale."
    )
    client.force_login(member)

    page = text_of(client.get(f"{LIST}{bean.pk}/"))

    for said in (
        lot.number,
        f"What {member.display_name} keeps is lost",
        f"{member.display_name}&#x27;s grow-out of 2026 fails",
        "doubtful, as of 10 February 2026: counts 20 %",
        "One in the dale.",
        "Find one grower more",
        "plants that keep it",
    ):
        assert said in page, said


def test_how_sure_a_grower_is_stays_between_them_and_the_coordinators(
    client, as_, bean, make_lot, member, other_member, coordinator, make_commitment
):
    make_lot(bean, seeds=2000, harvest_year=2024)
    for grower in (member, other_member):
        make_commitment(bean, grower, state="accepted")

    def read(who) -> str:
        client.force_login(who)
        return text_of(client.get(f"{LIST}{bean.pk}/")) + text_of(client.get(LIST))

    def over_the_api(who) -> list:
        growing = as_(who).get(f"/api/risk/{bean.pk}/").json()["growing"]
        return [promised["success"] for promised in growing]

    assert "gives seed with 70 %" not in read(member)
    assert "each counts with its grower&#x27;s chance" in read(member)
    assert read(coordinator).count("gives seed with 70 %") == 4
    assert over_the_api(member) == [None, None]
    assert over_the_api(coordinator) == pytest.approx([0.7, 0.7])


def test_where_nothing_lives_a_grower_has_nothing_to_sow(client, bean, member):
    client.force_login(member)

    page = text_of(client.get(f"{LIST}{bean.pk}/"))

    assert "nothing that a grower could sow" in page
    assert "grower more" not in page


def test_a_hybrid_has_no_chance_and_the_page_says_why(client, make_variety, make_lot, member):
    hybrid = make_variety("Quick Red", crop="tomato", breeding_status="f1")
    make_lot(hybrid, seeds=40, harvest_year=2025)
    client.force_login(member)

    page = text_of(client.get(f"{LIST}{hybrid.pk}/"))

    assert "cannot be kept by growing it" in page
    assert '<svg class="risk-bars"' not in page
    assert "What would help most" not in page


def test_tubers_say_what_is_assumed_of_them(client, make_variety, make_lot, member):
    potato = make_variety("Dale Blue", crop="potato", breeding_status="clone")
    make_lot(potato, seeds=60, harvest_year=2025, counted_as="tuber")
    client.force_login(member)

    page = text_of(client.get(f"{LIST}{potato.pk}/?years=1"))

    assert "which keep one season" in page
    assert "with a chance of 30 % for each year (common practice, no source)" in page


def test_the_card_tells_members_and_nobody_else(client, two, member):
    _bean, mill = two
    stranger = text_of(client.get(mill.get_absolute_url()))
    client.force_login(member)

    assert "Could it be lost?" in text_of(client.get(mill.get_absolute_url()))
    assert "Could it be lost?" not in stranger


# Elsewhere and the rules


def test_a_member_says_that_it_can_be_had_elsewhere(client, bean, member):
    client.force_login(member)

    answer = client.post(
        f"{LIST}{bean.pk}/elsewhere/",
        {"ease": "easily", "known_on": "2026-01-31", "note": "Two neighbours grow it."},
    )

    record = Elsewhere.objects.get()
    assert answer.url == f"{LIST}{bean.pk}/"
    assert (record.ease, record.known_on, record.recorded_by) == (
        "easily",
        dt.date(2026, 1, 31),
        member,
    )


def test_nobody_knows_what_will_be(client, bean, member):
    client.force_login(member)

    answer = client.post(
        f"{LIST}{bean.pk}/elsewhere/", {"ease": "easily", "known_on": "2026-02-11"}
    )

    assert answer.status_code == 400
    assert "is still to come" in text_of(answer)
    assert not Elsewhere.objects.exists()


def test_a_word_that_is_none_is_refused_and_a_stranger_says_nothing(bean, member, make_member):
    with pytest.raises(Refused, match="no such answer"):
        record_elsewhere(variety=bean, ease="maybe", on=TODAY, by=member)
    applicant = make_member("Fern", membership="applied")
    with pytest.raises(Refused, match="not a member"):
        record_elsewhere(variety=bean, ease="easily", on=TODAY, by=applicant)


def test_a_coordinator_changes_how_far_it_is_looked_ahead(client, coordinator, two):
    client.force_login(coordinator)
    rules = {
        "horizon_years": "9",
        "yearly_hazard_percent": "2.5",
        "usual_success_percent": "60",
        "apart_m": "500",
        "answer_within_days": "10",
        "plan_seconds": "30",
    }

    client.post("/grow-outs/rules/", rules)

    assert GrowOutRules.current().horizon_years == 9
    assert "within 9 years" in text_of(client.get(LIST))


def test_rules_out_of_range_are_refused_at_their_field(coordinator):
    with pytest.raises(Refused) as refused:
        change_growout_rules(by=coordinator, usual_success_percent=100)
    assert refused.value.field == "usual_success_percent"


# The chart


@given(
    st.lists(st.tuples(st.sampled_from("xyz"), st.floats(0, 1)), max_size=4),
    st.lists(st.floats(0, 1), max_size=3),
    st.floats(0, 1),
)
def test_the_parts_of_a_bar_fill_it_without_a_gap(holdings, growing, elsewhere):
    situation = Situation(
        holdings=tuple(
            Holding(key=str(n), custodian=who, alive=alive)
            for n, (who, alive) in enumerate(holdings)
        ),
        growing=tuple(growing),
        elsewhere=elsewhere,
    )
    risk = chance_of_loss(situation)
    keepers = tuple(Keeper(name, False, fails, ()) for name, fails in risk.custodians.items())

    class One:
        pass

    one = One()
    one.risk = risk  # type: ignore[attr-defined]
    parts = parts_of(Told(one, keepers, (), each_grower=True))  # type: ignore[arg-type]

    left = 0.0
    for part in parts:
        assert part.left == pytest.approx(left, abs=0.5)  # slivers are not drawn
        left = part.left + part.width
    assert left == pytest.approx(100, abs=0.5)
    lost = sum(part.width for part in parts if part.kind == "lost")
    assert lost == pytest.approx(100 * risk.lost, abs=0.06)


def test_the_chart_says_in_words_what_it_shows(two, member):
    ranks = enumerate(at_risk(on=TODAY), start=1)
    rows = [told(one, reader=member, rank=n) for n, one in ranks]

    chart = chart_of(rows)

    assert [bar.name for bar in chart.bars] == ["1. Tarn Kettle", "2. Mill Loft"]
    assert f"Tarn Kettle 100 %, Mill Loft {rows[1].chance}" in chart.summary
    assert [part.kind for part in chart.bars[0].parts] == ["lost"]
    assert [part.kind for part in chart.bars[1].parts] == ["lost", "kept"]


@pytest.mark.parametrize(
    ("chance", "says"),
    [
        (0, "0 %"),
        (1e-7, "less than 0.1 %"),
        (0.0123, "1.2 %"),
        (0.03, "3 %"),
        (1 - 0.9, "10 %"),
        (0.34, "34 %"),
        (0.987, "98.7 %"),
        (0.99999, "more than 99.9 %"),
        (1, "100 %"),
    ],
)
def test_a_chance_is_never_certain_unless_it_is(chance, says):
    assert percent(chance) == says


# The API


def test_the_api_tells_the_same_as_the_pages(as_, bean, make_lot, member, make_commitment):
    make_lot(bean, seeds=2000, harvest_year=2024, custodian=member)
    make_commitment(bean, member, state="accepted")
    record_elsewhere(variety=bean, ease="doubtful", on=TODAY, by=member)

    listed = as_(member).get("/api/risk/", {"rare": "true", "years": 5}).json()
    alone = as_(member).get(f"/api/risk/{bean.pk}/", {"years": 5}).json()

    (one,) = at_risk(on=TODAY, varieties=[bean], years=5)
    assert listed["results"] == [alone]
    assert alone["lost"] == pytest.approx(one.lost)
    assert alone["keepers"][0]["fails"] * alone["growing_fails"] * (
        1 - alone["elsewhere"]["chance"]
    ) == pytest.approx(one.lost)
    assert alone["would_help"][0]["lost"] == min(deed["lost"] for deed in alone["would_help"])
    assert {source["source"] for source in alone["assumptions"]}


def test_the_api_names_no_place_to_members(as_, two, member, desk):
    _bean, mill = two

    def keeper(who) -> str:
        return as_(who).get(f"/api/risk/{mill.pk}/").json()["keepers"][0]["name"]

    assert (keeper(member), keeper(desk)) == ("the library", "the library, Chapel loft")


def test_the_api_refuses_what_it_cannot_look_at(as_, two, member):
    bean, _mill = two
    answers = [
        as_(member).get("/api/risk/", {"years": 0}),
        as_(member).get("/api/risk/", {"sort": "luck"}),
        as_(member).get(f"/api/risk/{bean.pk}/", {"years": 99}),
    ]

    assert [answer.status_code for answer in answers] == [400, 400, 400]


def test_the_api_takes_a_word_of_elsewhere_and_gives_all(as_, bean, member):
    made = as_(member).post(
        "/api/elsewhere/",
        {"variety": bean.pk, "ease": "easily", "known_on": "2026-02-01", "note": "Next dale."},
    )
    future = as_(member).post(
        "/api/elsewhere/", {"variety": bean.pk, "ease": "easily", "known_on": "2027-02-01"}
    )

    assert (made.status_code, future.status_code) == (201, 400)
    assert as_(member).get("/api/elsewhere/", {"variety": bean.pk}).json()["results"] == [
        made.json()
    ]
