"""Plans on pages and over the API: asked for, followed, read, decided on, and sent."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from library.growouts.models import Commitment, LeftOut, Pin, Plan
from library.growouts.plans import words
from library.growouts.plans.reading import Names
from library.growouts.plans.running import claim_next, work_on
from library.growouts.services.plans import ask_plan, pin, send_offers
from library.science.assignment import Clash, Kind, Obstacle
from tests.growouts.conftest import TODAY
from tests.pages import text_of

pytestmark = pytest.mark.django_db

HTMX = {"HX-Request": "true"}


@pytest.fixture
def page(client, coordinator):
    client.force_login(coordinator)
    return client


@pytest.fixture
def varieties(make_variety, make_lot):
    found = {
        "round": make_variety("Round", crop="courgette", days_to_maturity=60),
        "long": make_variety("Long", crop="courgette", days_to_maturity=60),
        "bean": make_variety("Tarn Kettle", crop="drying bean", days_to_maturity=80),
    }
    for variety in found.values():
        make_lot(variety, seeds=3000, harvest_year=2025)
    return found


@pytest.fixture
def growers(make_member):
    return [make_member(f"grower {n}") for n in range(3)]


@pytest.fixture
def offered(varieties, growers, make_offer, make_wanted, make_garden):
    for variety in varieties.values():
        make_wanted(variety)
    return [
        make_offer(member, garden=make_garden(member, north_m=2000 * n), most=3, room_m2=400)
        for n, member in enumerate(growers)
    ]


@pytest.fixture
def solved(season, offered, coordinator) -> Plan:
    ask_plan(season=season, on=TODAY, by=coordinator, seconds=5)
    return solve()


def solve() -> Plan:
    plan = claim_next(worker="w")
    work_on(plan)
    plan.refresh_from_db()
    return plan


# Asking and following ---------------------------------------------------------------------
def test_asking_leads_to_the_plan(page, season, offered, coordinator):
    answer = page.post(f"/grow-outs/seasons/{season.year}/plans/", {"seconds": 7})

    plan = Plan.objects.get()
    assert answer["Location"] == f"/grow-outs/plans/{plan.pk}/"
    assert (plan.seconds, plan.asked_by) == (7, coordinator)


def test_the_second_to_ask_is_shown_the_plan_of_the_first(
    page, as_, season, offered, coordinator
):
    first = ask_plan(season=season, on=TODAY, by=coordinator)

    answer = page.post(f"/grow-outs/seasons/{season.year}/plans/", follow=True)
    over_the_api = as_(coordinator).post("/api/plans/", {"season": season.year}, format="json")

    assert answer.redirect_chain[0][0] == f"/grow-outs/plans/{first.pk}/"
    assert "being worked on already: this one" in text_of(answer)
    assert over_the_api.status_code == 409
    assert Plan.objects.count() == 1


def test_with_nothing_to_plan_the_page_says_what_is_missing(page, season):
    answer = page.post(f"/grow-outs/seasons/{season.year}/plans/")

    assert answer.status_code == 400
    assert "Choose first which varieties" in text_of(answer)


def test_a_plan_at_work_says_how_far_it_is(page, season, offered, coordinator):
    plan = ask_plan(season=season, on=TODAY, by=coordinator, seconds=60)
    Plan.objects.filter(pk=plan.pk).update(
        state="solving",
        started_at=timezone.now() - dt.timedelta(seconds=15),
        stage="least_cost",
        covered=2,
        loss=0.25,
    )

    whole = text_of(page.get(f"/grow-outs/plans/{plan.pk}/"))
    part = text_of(page.get(f"/grow-outs/plans/{plan.pk}/", headers=HTMX))

    for said in (whole, part):
        assert "25 % of 60 seconds" in said
        assert "making the expected loss smaller" in said
        assert "2 varieties with a grower, 0.25 expected to be lost" in said
    assert "Stop and take the best so far" in whole
    assert '<noscript><meta http-equiv="refresh"' in whole
    assert "<html" not in part


def test_a_page_that_waits_is_loaded_anew_when_the_plan_is_done(page, solved):
    address = f"/grow-outs/plans/{solved.pk}/"

    assert page.get(address, headers=HTMX)["HX-Refresh"] == "true"
    assert "HX-Refresh" not in page.get(address)


def test_time_that_is_over_is_never_more_than_all(season, offered, coordinator):
    plan = ask_plan(season=season, on=TODAY, by=coordinator, seconds=5)
    assert words.percent_of_time(plan) == 0
    plan.state, plan.started_at = "solving", timezone.now() - dt.timedelta(minutes=5)
    assert words.percent_of_time(plan) == 99


def test_stopping_is_noted_once(page, season, offered, coordinator):
    plan = ask_plan(season=season, on=TODAY, by=coordinator)
    claim_next(worker="w")

    first = page.post(f"/grow-outs/plans/{plan.pk}/stop/", follow=True)

    plan.refresh_from_db()
    assert plan.stop_asked_at is not None
    assert "the best so far is taken" in text_of(first)


# Reading ----------------------------------------------------------------------------------
def test_a_plan_is_read_by_variety_and_by_grower(page, solved, growers):
    by_variety = text_of(page.get(f"/grow-outs/plans/{solved.pk}/"))
    by_grower = text_of(page.get(f"/grow-outs/plans/{solved.pk}/?by=grower"))

    assert "3 of 3 varieties have a grower, and 3 could have one;" in by_variety
    assert "No plan gives more varieties a grower." in by_variety
    for said in (by_variety, by_grower):
        assert "from the best possible" in said or "is the best possible" in said
        assert "By hand, what is likeliest to be lost first" in said
        for member in growers:
            assert member.display_name in said
    assert "of 400.0 m²" in by_grower
    assert "Why this grower?" in by_variety
    assert "Plants for each m²" in by_variety
    assert "common practice, no source" in by_variety


def test_each_pair_tells_what_its_grower_was_asked(page, solved, coordinator):
    pair = solved.pairs.first()

    page.post(f"/grow-outs/plans/{solved.pk}/offers/", {"pair": pair.pk})

    row = Commitment.objects.get()
    said = text_of(page.get(f"/grow-outs/plans/{solved.pk}/"))
    assert f'href="/grow-outs/commitments/{row.pk}/">offered<' in said
    assert f'name="pair" value="{pair.pk}"' not in said


def test_what_has_no_grower_says_what_stood_in_the_way_and_what_would_help(
    page, season, solved, offered, make_variety
):
    late = make_variety("Late", crop="drying bean")
    room = remedy_of(offered[0], "more_room", more_m2=2.01)
    bag = remedy_of(offered[1], "learn_a_technique", techniques=["bag"])
    why = {"in_the_way": {"too_little_room": 2, "would_cross": 1}, "remedies": [room, bag]}
    LeftOut.objects.create(plan=solved, variety=late, why=why)

    said = text_of(page.get(f"/grow-outs/plans/{solved.pk}/"))

    assert "Too little room in 2 gardens." in said
    assert "1 garden where it would cross with what is planned near." in said
    place = offered[0].garden
    assert (
        f"With 2.1 m² more it could be grown in {place.name} ({place.member.display_name})."
        in said
    )
    assert "could keep it from crossing (bagged flowers)" in said


def remedy_of(offer, kind: str, **facts) -> dict:
    given = {"more_m2": 0, "more_next_m2": 0, "techniques": [], "plantings": 0}
    given |= {"moved": None, "to": None} | facts
    return {"kind": kind, "garden": f"g{offer.garden_id}"} | given


@pytest.mark.parametrize(
    ("kind", "facts", "said"),
    [
        (Kind.WANT_ONE_MORE, {}, "If grower 0 took one variety more"),
        (
            Kind.LEARN_A_TECHNIQUE,
            {"techniques": ["bag", "cage"]},
            "If grower 0 could keep it from crossing (bagged flowers or cage)",
        ),
        (Kind.MORE_ROOM, {"more_m2": 2.01}, "With 2.1 m² more it"),
        (Kind.MORE_ROOM, {"more_next_m2": 3.000001}, "With 3 m² more in the second season"),
        (
            Kind.MORE_ROOM,
            {"more_m2": 1, "more_next_m2": 2},
            "With 1 m² more, and 2 m² in the second season",
        ),
        (Kind.KEEP_FROM_FLOWERING, {"plantings": 2}, "If 2 plantings that people grow"),
        (Kind.MOVE_A_PAIR, {}, "If Round went from"),
    ],
)
def test_every_remedy_is_a_sentence(kind, facts, said, offered, varieties):
    keys, variety = [f"g{one.garden_id}" for one in offered], f"v{varieties['round'].pk}"
    if kind is Kind.MOVE_A_PAIR:
        facts = {"moved": [variety, keys[1]], "to": keys[2]}

    told = words.remedy_in_words(remedy_of(offered[0], kind, **facts), Names(keys, [variety]))

    assert told.startswith(said)
    assert offered[0].garden.name in told
    assert "%(" not in told


def test_every_kind_of_remedy_is_tried_above():
    tried = {row[0] for row in test_every_remedy_is_a_sentence.pytestmark[0].args[1]}
    assert tried == set(Kind)


def test_every_obstacle_and_clash_has_words():
    for kind in [*Obstacle, *Clash]:
        assert words.because(kind.value)
        assert "3" in words.counted_in_words({kind.value: 3})[0]


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        ({"gap": 0.00391}, "at most 0.4 % from the best possible"),
        ({"gap": 0.0}, "is the best possible"),
        ({"gap": 0.00001}, "at most 0.1 % from the best possible"),
        ({"gap": None}, "was not proved"),
        ({"gap": None, "most_covered": 5}, "At most 2 varieties more could have a grower."),
        ({"gap": None, "most_covered": None}, "Whether more varieties could have a grower"),
    ],
)
def test_the_gap_in_words_never_says_too_little(facts, said):
    plan = Plan(**{"covered": 3, "most_covered": 3, "could_be_covered": 5} | facts)

    assert said in " ".join(words.quality_in_words(plan))


def test_pages_ask_as_much_for_one_row_as_for_many(
    page, season, coordinator, make_member, make_variety, make_lot, make_offer, make_wanted,
    make_garden,
):  # fmt: skip
    def asked(path):
        with CaptureQueriesContext(connection) as queries:
            assert page.get(path).status_code == 200
        return len(queries)

    def grown_to(number):
        for n in range(number):
            member = make_member(f"one of {number}: {n}")
            variety = make_variety(crop="drying bean", days_to_maturity=70)
            make_lot(variety, seeds=500)
            make_wanted(variety)
            garden = make_garden(member, north_m=1500 * n)
            make_offer(member, garden=garden, room_m2=300)
            pin(season=season, variety=variety, garden=garden, kind="never", by=coordinator)
        ask_plan(season=season, on=TODAY, by=coordinator, seconds=2)
        plan = solve()
        assert plan.pairs.count() >= number
        send_offers(plan=plan, on=TODAY, by=coordinator, pairs=plan.pairs.all()[:1])
        return [
            asked(f"/grow-outs/plans/{plan.pk}/"),
            asked(f"/grow-outs/plans/{plan.pk}/?by=grower"),
            asked(f"/grow-outs/seasons/{season.year}/plans/"),
            asked(f"/grow-outs/seasons/{season.year}/pins/"),
            asked("/api/plans/"),
            asked(f"/api/plans/{plan.pk}/"),
            asked("/api/pins/"),
        ]

    few = grown_to(4)
    assert grown_to(6) == few


def test_the_page_of_the_season_tells_coordinators_of_its_plan(
    page, client, season, solved, member
):
    address = f"/grow-outs/seasons/{season.year}/"
    said = text_of(page.get(address))
    client.force_login(member)
    to_a_member = text_of(client.get(address))

    assert f'href="/grow-outs/plans/{solved.pk}/"' in said
    assert "3 of 3 varieties have a grower" in said
    assert "Plan anew" in said
    assert "/grow-outs/plans/" not in to_a_member
    assert "have a grower" not in to_a_member


# Deciding ---------------------------------------------------------------------------------
def test_a_pair_of_a_plan_is_kept_or_ruled_out(page, season, solved):
    keep, never = solved.pairs.all()[:2]

    page.post(f"/grow-outs/plans/{solved.pk}/pin/", {"keep": keep.pk})
    page.post(f"/grow-outs/plans/{solved.pk}/pin/", {"never": never.pk})

    kinds = {(p.variety_id, p.garden_id): p.kind for p in season.pins.all()}
    assert kinds == {
        (keep.variety_id, keep.garden_id): "keep",
        (never.variety_id, never.garden_id): "never",
    }


def test_decisions_are_made_and_taken_back_on_their_page(page, season, offered, varieties):
    address = f"/grow-outs/seasons/{season.year}/pins/"
    sent = {"variety": varieties["bean"].pk, "garden": offered[0].garden_id, "kind": "keep"}
    page.post(address, sent | {"reason": "they asked for it"})

    assert "they asked for it" in text_of(page.get(address))
    page.post(f"/grow-outs/pins/{season.pins.get().pk}/remove/")
    assert not season.pins.exists()


def test_a_garden_that_is_not_offered_cannot_be_chosen(
    page, season, offered, varieties, make_garden, other_member
):
    sent = {"variety": varieties["bean"].pk, "garden": make_garden(other_member).pk}

    answer = page.post(f"/grow-outs/seasons/{season.year}/pins/", sent | {"kind": "keep"})

    assert answer.status_code == 400
    assert not Pin.objects.exists()


def test_decisions_that_cannot_all_be_are_told_and_the_earlier_plan_stays(
    page, as_, season, solved, offered, varieties, coordinator
):
    for name in ("round", "long"):
        pin(season=season, variety=varieties[name], garden=offered[0].garden, kind="keep",
            by=coordinator)  # fmt: skip
    ask_plan(season=season, on=TODAY, by=coordinator, seconds=3)
    failed = solve()

    said = text_of(page.get(f"/grow-outs/plans/{failed.pk}/"))
    over_the_api = as_(coordinator).get(f"/api/plans/{failed.pk}/").json()

    place = offered[0].garden
    sentence = (
        f"in {place.name} ({place.member.display_name}) cannot be: "
        "it would cross with another variety that is planned near."
    )
    assert sentence in said
    assert sentence in over_the_api["trouble"][0]
    assert "Earlier plans and all decisions are kept." in said
    assert season.pins.count() == 2
    assert page.get(f"/grow-outs/plans/{solved.pk}/").status_code == 200
    assert solved.pairs.count() >= 3


def test_a_promise_that_has_no_room_any_more_is_told_as_one(
    page, season, offered, varieties, growers, coordinator, make_commitment
):
    place = offered[0]
    make_commitment(varieties["bean"], growers[0], garden=place.garden, state="accepted")
    place.room_m2 = 0
    place.save()
    ask_plan(season=season, on=TODAY, by=coordinator, seconds=3)

    said = text_of(page.get(f"/grow-outs/plans/{solve().pk}/"))

    assert (
        f"Tarn Kettle in {place.garden.name} (grower 0) (accepted) cannot be: "
        "the garden has too little room for it."
    ) in said


# Sending ----------------------------------------------------------------------------------
def test_pressed_twice_nobody_is_asked_twice(page, solved):
    address = f"/grow-outs/plans/{solved.pk}/offers/"

    first = page.post(address, {"all": "yes"}, follow=True)
    second = page.post(address, {"all": "yes"}, follow=True)

    assert f"{solved.pairs.count()} offers were sent." in text_of(first)
    assert "nobody is asked twice" in text_of(second)
    assert Commitment.objects.count() == solved.pairs.count()


def test_none_ticked_sends_nothing(page, solved):
    answer = page.post(f"/grow-outs/plans/{solved.pk}/offers/", follow=True)

    assert "Tick first whom to ask." in text_of(answer)
    assert not Commitment.objects.exists()


def test_only_the_ticked_are_asked(as_, solved, coordinator):
    pair = solved.pairs.first()

    answer = as_(coordinator).post(
        f"/api/plans/{solved.pk}/offers/", {"pairs": [pair.pk]}, format="json"
    )

    (row,) = Commitment.objects.all()
    assert answer.json() == {"sent": [row.pk], "refused": []}
    assert (row.variety_id, row.garden_id, row.plan) == (
        pair.variety_id,
        pair.garden_id,
        solved,
    )


def test_pairs_of_another_plan_are_refused(as_, solved, coordinator):
    answer = as_(coordinator).post(
        f"/api/plans/{solved.pk}/offers/", {"pairs": [10**9]}, format="json"
    )

    assert answer.status_code == 400
    assert not Commitment.objects.exists()


# The API ----------------------------------------------------------------------------------
def test_the_api_tells_a_plan_with_its_reasons(as_, solved, coordinator):
    told = as_(coordinator).get(f"/api/plans/{solved.pk}/").json()

    assert told["percent"] == 100
    assert told["covered"] == 3
    assert len(told["pairs"]) == solved.pairs.count()
    assert told["pairs"][0]["commitment"] is None
    assert "This grower brings seed" in {why["what"] for why in told["pairs"][0]["why"]}


def test_the_api_asks_for_a_plan(as_, season, offered, coordinator):
    answer = as_(coordinator).post(
        "/api/plans/", {"season": season.year, "seconds": 9}, format="json"
    )

    told = answer.json()
    assert (answer.status_code, told["state"], told["seconds"]) == (201, "waiting", 9)
    assert told["doing"] == "waiting for its turn"


def test_plans_are_found_by_season_and_state(as_, season, solved, coordinator):
    api = as_(coordinator)

    def found(asked):
        return [row["id"] for row in api.get(f"/api/plans/?{asked}").json()["results"]]

    assert found(f"season={season.year}&state=done") == [solved.pk]
    assert found("state=waiting&state=solving") == []
    assert found("season=1999") == []


def test_a_plan_stays_when_who_asked_for_it_has_left(as_, page, solved, coordinator):
    Plan.objects.filter(pk=solved.pk).update(asked_by=None)

    assert as_(coordinator).get(f"/api/plans/{solved.pk}/").json()["asked_by"] is None
    assert page.get(f"/grow-outs/plans/{solved.pk}/").status_code == 200


def test_plans_are_nothing_for_members(client, as_, member, solved):
    client.force_login(member)

    for path in (f"/grow-outs/plans/{solved.pk}/", f"/grow-outs/seasons/{TODAY.year}/plans/"):
        assert client.get(path).status_code == 404
    assert as_(member).get(f"/api/plans/{solved.pk}/").status_code == 404
