"""A season's plan from the database: what goes in, how it is worked out, and what is kept."""

from __future__ import annotations

import datetime as dt
import json
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from django.utils import timezone

from accounts.models import Garden
from library.errors import Conflict, NotAllowed, Refused
from library.growouts.models import Commitment, Plan
from library.growouts.plans import running
from library.growouts.plans.given import days_needed, given_of
from library.growouts.plans.reading import PlanReading
from library.growouts.plans.running import claim_next, work_on
from library.growouts.services.plans import ask_plan, pin, send_offers, stop_plan, unpin
from library.outbox import worker as this_process
from library.science.assignment.files import season_to_json
from library.science.isolation import Technique
from library.stock.models import Lot
from tests.growouts.checking import check_plan
from tests.growouts.conftest import TODAY
from tests.load.assignment import make_season

pytestmark = pytest.mark.django_db


@pytest.fixture
def varieties(make_variety, make_lot):
    """Two courgettes that would cross, a bean, and a carrot of two years; seed of each."""
    found = {
        "round": make_variety("Round", crop="courgette", days_to_maturity=60),
        "long": make_variety("Long", crop="courgette", days_to_maturity=60),
        "bean": make_variety("Tarn Kettle", crop="drying bean", days_to_maturity=80),
        "carrot": make_variety("Scar Red", crop="carrot"),
    }
    for variety in found.values():
        make_lot(variety, seeds=3000, harvest_year=2025)
    return found


@pytest.fixture
def growers(make_member):
    return [make_member(f"grower {n}") for n in range(3)]


@pytest.fixture
def offered(varieties, growers, make_offer, make_wanted, make_garden):
    """Everything wanted; three gardens, two kilometres apart."""
    for variety in varieties.values():
        make_wanted(variety)
    return [
        make_offer(member, garden=make_garden(member, north_m=2000 * n), most=3, room_m2=400)
        for n, member in enumerate(growers)
    ]


def given(season):
    return given_of(season, on=TODAY).season


# What goes in -----------------------------------------------------------------------------
def test_everything_that_is_known_arrives(season, offered, varieties):
    year = given(season)

    carrot = year.variety[f"v{varieties['carrot'].pk}"]
    courgette = year.variety[f"v{varieties['round'].pk}"]
    assert len(year.varieties) == 4
    assert (carrot.seasons, courgette.seasons) == (2, 1)
    assert courgette.days == 60 + 45
    assert courgette.species == year.variety[f"v{varieties['long'].pk}"].species
    assert courgette.isolation_m > 100
    assert 0 < courgette.loss < 1
    assert year.garden[f"g{offered[1].garden_id}"].latitude == pytest.approx(54.218, abs=0.001)
    assert {g.days for g in year.gardens} == {148}  # 10 May to 5 October
    assert all(g.most == 3 and g.success == pytest.approx(0.7) for g in year.growers)


def test_a_garden_on_the_grid_vouches_for_no_distance(
    season, offered, growers, make_offer, make_garden
):
    coarse = make_garden(growers[0], placed="grid")
    make_offer(growers[0], garden=coarse, can_bag=True)

    found = given_of(season, on=TODAY)

    place = found.season.garden[f"g{coarse.pk}"]
    assert not place.place_known
    assert (place.latitude, place.longitude) == (0.0, 0.0)
    assert place.techniques == {Technique.BAG}
    assert found.without_place == [coarse]


def test_only_what_flowers_counts_as_a_planting(
    season, offered, varieties, make_planting, make_garden, other_member
):
    there = make_garden(other_member, north_m=100)
    make_planting(there, varieties["long"])
    make_planting(there, varieties["round"], flowers=False)
    make_planting(there, varieties["round"], year=TODAY.year - 1)

    plantings = given(season).plantings

    assert [p.variety for p in plantings] == [f"v{varieties['long'].pk}"]


def test_what_was_promised_is_pinned_and_what_was_declined_is_forbidden(
    season, offered, varieties, growers, make_commitment
):
    first, second = offered[0].garden, offered[1].garden
    make_commitment(varieties["bean"], growers[0], garden=first, state="accepted")
    make_commitment(
        varieties["round"], growers[1], garden=second, state="declined", closed_on=TODAY
    )

    year = given(season)

    assert year.pinned == {(f"v{varieties['bean'].pk}", f"g{first.pk}")}
    assert year.forbidden == {(f"v{varieties['round'].pk}", f"g{second.pk}")}


def test_last_years_biennials_take_room_and_flower_now(
    season, offered, varieties, growers, make_commitment
):
    from library.growouts.models import Season

    before = Season.objects.create(year=season.year - 1)
    make_commitment(
        varieties["carrot"],
        growers[0],
        season=before,
        garden=offered[0].garden,
        state="accepted",
        plants=80,
    )

    year = given(season)

    place = year.garden[f"g{offered[0].garden_id}"]
    assert place.room_m2 == pytest.approx(400 - 80 / 8)  # 50 x 25 cm each
    assert f"v{varieties['carrot'].pk}" in {p.variety for p in year.plantings}


def test_what_is_planted_in_autumn_needs_only_the_warm_months(make_variety):
    garlic = make_variety("Priory Wall", crop="garlic", days_to_maturity=270)
    potato = make_variety("Coal Hole", crop="potato", days_to_maturity=130)

    assert (days_needed(garlic), days_needed(potato)) == (90, 130)


def test_a_gardens_own_frosts_and_techniques_arrive(
    season, offered, growers, make_offer, make_garden
):
    high = make_garden(
        growers[0], north_m=9000, last_spring_frost="06-01", first_autumn_frost="09-01"
    )
    make_offer(
        growers[0], garden=high, room_m2=12.5, room_next_m2=7, can_cage=True,
        can_pollinate_by_hand=True,
    )  # fmt: skip

    found = given_of(season, on=TODAY)

    place = found.season.garden[f"g{high.pk}"]
    assert (place.days, place.room_in(1), place.room_in(2)) == (92, 12.5, 7)
    assert place.techniques == {Technique.CAGE, Technique.HAND_POLLINATION}
    assert high not in found.without_frosts
    assert offered[0].garden in found.without_frosts


def test_what_flowers_next_year_matters_to_biennials_only(
    season, offered, varieties, make_planting, make_garden, make_variety, other_member
):
    there = make_garden(other_member, north_m=100)
    make_planting(there, make_variety("Other", crop="carrot"), year=season.year + 1)
    make_planting(there, varieties["long"], year=season.year + 1)

    carrots = {v.crop.species_id for v in varieties.values() if v.crop.name == "carrot"}
    assert {p.species for p in given(season).plantings} == {f"s{pk}" for pk in carrots}


def test_a_promise_in_a_garden_that_is_not_offered_counts_for_what_it_saves(
    season, offered, varieties, growers, make_commitment, make_garden
):
    variety = varieties["round"]
    before = given(season).variety[f"v{variety.pk}"]
    own = make_garden(growers[0], north_m=100)
    make_commitment(variety, growers[0], garden=own, state="accepted")

    year = given(season)

    after = year.variety[f"v{variety.pk}"]
    assert after.loss == pytest.approx(before.loss * (1 - 0.7))
    assert (before.most_growers, after.most_growers) == (2, 1)
    assert year.forbidden == {(f"v{variety.pk}", f"g{offered[0].garden_id}")}
    assert year.pinned == frozenset()
    assert f"v{variety.pk}" in {p.variety for p in year.plantings}


def test_experience_arrives(season, offered, growers, varieties, make_commitment):
    from library.growouts.models import Season

    before = Season.objects.create(year=season.year - 1)
    for name in ("round", "long"):
        make_commitment(
            varieties[name], growers[0], season=before, state="fulfilled",
            closed_on=TODAY - dt.timedelta(days=90),
        )  # fmt: skip

    year = given(season)

    assert year.grower[f"m{growers[0].pk}"].success == pytest.approx((0.7 * 4 + 2) / 6)
    assert year.grower[f"m{growers[1].pk}"].success == pytest.approx(0.7)


def test_what_could_not_be_known_is_kept_with_the_plan(
    season, offered, varieties, growers, coordinator, make_garden, make_offer, make_planting,
    other_member,
):  # fmt: skip
    coarse = make_garden(growers[0], placed="grid")
    make_offer(growers[0], garden=coarse)
    make_planting(make_garden(other_member, placed="grid"), varieties["long"])
    pin(season=season, variety=varieties["bean"], garden=coarse, kind="keep", by=coordinator)
    season.wanted.filter(variety=varieties["bean"]).delete()

    plan = ask_plan(season=season, on=TODAY, by=coordinator)

    notes = plan.given["notes"]
    assert notes["without_place"] == [coarse.pk]
    assert (notes["plantings_without_place"], notes["lost_pins"]) == (1, 1)
    said = " ".join(PlanReading(plan).unknown)
    assert f"{coarse.name} (grower 0) has no exact place" in said
    assert "1 planting of a member" in said
    assert "1 decision was left aside" in said


@pytest.mark.parametrize("how_many", [1, 6])
def test_reading_a_season_costs_the_same_however_large(
    how_many, season, make_member, make_offer, make_wanted, make_variety, make_garden,
    make_planting, make_commitment, django_assert_max_num_queries,
):  # fmt: skip
    for n in range(how_many):
        member = make_member(f"grower {n}")
        variety = make_variety(crop="courgette")
        make_wanted(variety)
        there = make_garden(member, north_m=3000 * n)
        make_offer(member, garden=there)
        make_planting(there, variety)
        make_commitment(variety, member, garden=there)

    with django_assert_max_num_queries(40):
        given(season)


# Working it out ---------------------------------------------------------------------------
def worked_out(season, coordinator, seconds: int = 5) -> Plan:
    plan = ask_plan(season=season, on=TODAY, by=coordinator, seconds=seconds)
    work_on(claim_next(worker="w"))
    plan.refresh_from_db()
    return plan


def test_a_plan_is_worked_out_and_keeps_every_rule(season, offered, coordinator):
    plan = worked_out(season, coordinator)

    assert plan.state == Plan.State.DONE, plan.trouble
    assert (plan.covered, plan.could_be_covered, plan.most_covered) == (4, 4, 4)
    assert plan.gap < 0.01
    assert plan.cost >= plan.bound - 1e-6
    assert set(plan.by_hand) == {"rarest_first", "everyone_first"}
    assert plan.by_hand["rarest_first"]["loss"] >= plan.loss - 1e-9
    assert check_plan(plan) == []
    assert all("saves" in pair.why for pair in plan.pairs.all())


def test_what_nobody_can_grow_is_left_out_with_the_reason(
    season, offered, coordinator, make_variety, make_lot, make_wanted
):
    late = make_variety("Late", crop="drying bean", days_to_maturity=150)
    make_lot(late, seeds=900)
    make_wanted(late)

    plan = worked_out(season, coordinator)

    (left,) = plan.left_out.all()
    assert left.variety == late
    assert left.why == {"in_the_way": {"season_too_short": 3}, "remedies": []}


def test_a_pin_is_kept_and_a_never_is_not_planned(season, offered, varieties, coordinator):
    there, not_there = offered[2].garden, offered[0].garden
    pin(season=season, variety=varieties["bean"], garden=there, kind="keep", by=coordinator)
    for garden in (not_there, offered[1].garden):
        pin(season=season, variety=varieties["round"], garden=garden, kind="never",
            by=coordinator)  # fmt: skip

    plan = worked_out(season, coordinator)

    pairs = {(p.variety_id, p.garden_id): p for p in plan.pairs.all()}
    assert pairs[varieties["bean"].pk, there.pk].pinned
    assert {g for v, g in pairs if v == varieties["round"].pk} == {there.pk}
    assert check_plan(plan) == []


def test_pins_that_clash_are_told_and_nothing_is_lost(season, offered, varieties, coordinator):
    before = worked_out(season, coordinator)
    for name in ("round", "long"):
        pin(season=season, variety=varieties[name], garden=offered[0].garden, kind="keep",
            by=coordinator)  # fmt: skip

    plan = worked_out(season, coordinator)

    ((_variety, garden, why),) = plan.trouble["clash"]
    assert (plan.state, garden, why) == (
        Plan.State.FAILED,
        f"g{offered[0].garden_id}",
        "would_cross",
    )
    assert before.pairs.exists()
    assert season.pins.count() == 2


def test_one_plan_at_a_time(season, offered, coordinator):
    ask_plan(season=season, on=TODAY, by=coordinator)

    with pytest.raises(Conflict, match="worked on already"):
        ask_plan(season=season, on=TODAY, by=coordinator)


def test_there_must_be_something_to_plan(
    season, coordinator, member, make_wanted, variety, make_lot
):
    with pytest.raises(Refused, match="which varieties"):
        ask_plan(season=season, on=TODAY, by=coordinator)
    make_wanted(variety)
    with pytest.raises(Refused, match="No seed is here"):
        ask_plan(season=season, on=TODAY, by=coordinator)
    make_lot(variety)
    with pytest.raises(Refused, match="No garden"):
        ask_plan(season=season, on=TODAY, by=coordinator)
    with pytest.raises(NotAllowed):
        ask_plan(season=season, on=TODAY, by=member)


def test_a_plan_whose_worker_fell_silent_is_taken_up_again(season, offered, coordinator):
    ask_plan(season=season, on=TODAY, by=coordinator, seconds=3)
    dead = claim_next(worker="dead")
    assert claim_next(worker="other") is None
    long_ago = timezone.now() - dt.timedelta(minutes=5)
    Plan.objects.filter(pk=dead.pk).update(heard_at=long_ago)

    again = claim_next(worker="other")
    work_on(again)
    again.refresh_from_db()

    assert (again.pk, again.state) == (dead.pk, Plan.State.DONE)


def test_who_was_taken_for_dead_writes_nothing_any_more(season, offered, coordinator):
    ask_plan(season=season, on=TODAY, by=coordinator, seconds=3)
    slow = claim_next(worker="slow")
    Plan.objects.filter(pk=slow.pk).update(worker="other")

    work_on(slow)
    slow.refresh_from_db()

    assert (slow.state, slow.worker) == (Plan.State.SOLVING, "other")
    assert not slow.pairs.exists()


def test_a_solver_that_is_killed_is_told(season, offered, coordinator, monkeypatch):
    monkeypatch.setattr(running, "COMMAND", [sys.executable, "-c", "import os; os.abort()"])

    plan = worked_out(season, coordinator)

    assert plan.state == Plan.State.FAILED
    assert "solver ended" in plan.trouble["failed"]


def claimed(season, coordinator, worker: str = "dead") -> Plan:
    ask_plan(season=season, on=TODAY, by=coordinator, seconds=3)
    return claim_next(worker=worker)


def silent(plan: Plan, **facts) -> None:
    long_ago = timezone.now() - dt.timedelta(minutes=5)
    Plan.objects.filter(pk=plan.pk).update(heard_at=long_ago, **facts)


def test_what_killed_every_worker_is_given_up(season, offered, coordinator):
    plan = claimed(season, coordinator)
    for number in range(2):
        silent(plan)
        assert claim_next(worker=f"worker {number}").pk == plan.pk
    silent(plan)

    assert claim_next(worker="last") is None
    plan.refresh_from_db()
    assert plan.state == Plan.State.FAILED
    assert "3 times" in plan.trouble["failed"]


def test_stopped_while_its_worker_was_dead_the_best_so_far_is_the_plan(
    season, offered, varieties, coordinator
):
    plan = claimed(season, coordinator)
    pair = [f"v{varieties['bean'].pk}", f"g{offered[0].garden_id}"]
    silent(plan, best=[pair], covered=1, cost=1.0, stage="by_hand")
    stop_plan(plan=plan, by=coordinator)

    work_on(claim_next(worker="other"))

    plan.refresh_from_db()
    assert plan.state == Plan.State.STOPPED
    assert [(p.variety_id, p.garden_id) for p in plan.pairs.all()] == [
        (varieties["bean"].pk, offered[0].garden_id)
    ]


@pytest.mark.parametrize("has_best", [True, False])
def test_a_plan_that_waits_is_stopped_with_what_it_has(
    has_best, season, offered, varieties, coordinator
):
    """It was handed back by a server that stopped; or nobody began it."""
    plan = ask_plan(season=season, on=TODAY, by=coordinator, seconds=60)
    pair = [f"v{varieties['bean'].pk}", f"g{offered[0].garden_id}"]
    if has_best:
        Plan.objects.filter(pk=plan.pk).update(best=[pair], covered=1, cost=1.0)
    stop_plan(plan=plan, by=coordinator)

    taken = claim_next(worker="w")
    if taken is not None:
        work_on(taken)

    plan.refresh_from_db()
    assert plan.state == (Plan.State.STOPPED if has_best else Plan.State.FAILED)
    assert plan.pairs.count() == has_best


def test_the_runner_takes_up_at_once_what_it_left_when_it_was_killed(
    season, offered, coordinator
):
    plan = claimed(season, coordinator, worker="the runner")

    assert claim_next(worker="somebody else", here=()) is None
    assert claim_next(worker="the runner", here={plan.pk}) is None
    assert claim_next(worker="the runner", here=()).pk == plan.pk


def test_the_best_so_far_is_never_replaced_by_less(season, offered, coordinator):
    plan = claimed(season, coordinator)
    work = running._Work(plan)
    stage = {"name": "by_hand", "chosen": [], "bound": None}
    for covered, cost in ((3, 0.5), (2, 0.1), (3, 0.6), (3, 0.4)):
        work._hear({"stage": stage | {"covered": covered, "cost": cost}})

    assert (work.best["covered"], work.best["cost"]) == (3, 0.4)


@pytest.fixture
def large(season, offered, coordinator) -> Plan:
    """A plan that would take minutes."""
    plan = ask_plan(season=season, on=TODAY, by=coordinator, seconds=600)
    year = make_season(150, 150, seed=1)
    Plan.objects.filter(pk=plan.pk).update(given=season_to_json(year))
    return Plan.objects.get(pk=plan.pk)


@pytest.fixture
def in_thread():
    """Works on a claimed plan beside the test, as the embedded runner does."""
    threads = []

    def begin(plan: Plan) -> threading.Thread:
        thread = threading.Thread(target=running._in_thread, args=[plan], daemon=True)
        thread.start()
        threads.append(thread)
        return thread

    yield begin
    this_process.stopping.set()
    for thread in threads:
        thread.join(60)
    this_process.stopping.clear()


def wait_for_something(plan: Plan) -> None:
    ends = time.monotonic() + 90
    while not Plan.objects.get(pk=plan.pk).covered:
        assert time.monotonic() < ends, "The solver found nothing in a minute and a half."
        time.sleep(0.2)


@pytest.mark.django_db(transaction=True)
def test_a_plan_can_be_stopped_and_gives_its_best_so_far(large, coordinator, in_thread):
    thread = in_thread(claim_next(worker="w"))
    wait_for_something(large)

    stop_plan(plan=large, by=coordinator)
    thread.join(60)

    large.refresh_from_db()
    assert large.state == Plan.State.STOPPED
    assert large.covered > 50
    assert large.loss > 0
    assert set(large.by_hand) == {"rarest_first", "everyone_first"}
    assert (large.covered, -large.loss) >= (
        large.by_hand["everyone_first"]["covered"],
        -large.by_hand["everyone_first"]["loss"],
    )


@pytest.mark.django_db(transaction=True)
def test_others_write_while_a_plan_is_worked_on(large, in_thread, varieties):
    """Nothing slow in a transaction: on SQLite one would keep every other writer out."""
    in_thread(claim_next(worker="w"))
    waited = []
    ends = time.monotonic() + 6
    while time.monotonic() < ends:
        began = time.monotonic()
        varieties["bean"].save(update_fields=["is_rare"])
        waited.append(time.monotonic() - began)
        time.sleep(0.05)

    assert Plan.objects.get(pk=large.pk).state == Plan.State.SOLVING
    assert len(waited) > 20
    assert max(waited) < 2


@pytest.mark.django_db(transaction=True)
def test_a_server_that_stops_hands_the_plan_back_and_ends_its_solver(large, in_thread):
    thread = in_thread(claim_next(worker="w"))
    wait_for_something(large)
    (solver,) = children()

    this_process.stopping.set()
    thread.join(60)

    large.refresh_from_db()
    assert (large.state, thread.is_alive()) == (Plan.State.WAITING, False)
    assert large.covered
    assert not is_alive(solver)


def children() -> list[int]:
    """The solvers that this process has started and that live."""
    tasks = Path("/proc/self/task").glob("*/children")
    found = [int(pid) for task in tasks for pid in task.read_text().split()]
    return [pid for pid in found if is_alive(pid) and "assignment.worker" in command_of(pid)]


def command_of(pid: int) -> str:
    return Path(f"/proc/{pid}/cmdline").read_text().replace("\0", " ")


def asked_for_minutes() -> str:
    """A line for the solver that keeps it busy for long."""
    year = season_to_json(make_season(150, 150, 1))
    return json.dumps({"season": year, "seconds": 300}) + "\n"


def test_the_solver_does_not_outlive_who_asked_it():
    """Its parent is killed at once, before it has read anything; soon it is gone too."""
    asks = (
        "import subprocess, sys\n"
        f"child = subprocess.Popen({running.COMMAND!r}, stdin=subprocess.PIPE, text=True,"
        " stdout=subprocess.DEVNULL)\n"
        "child.stdin.write(sys.stdin.readline()); child.stdin.flush()\n"
        "print(child.pid, flush=True)\n"
        "child.wait()\n"
    )
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    with subprocess.Popen([sys.executable, "-c", asks], **pipes) as parent:
        parent.stdin.write(asked_for_minutes())
        parent.stdin.flush()
        child = int(parent.stdout.readline())
        parent.kill()

    assert_gone(child)


def test_the_solver_ends_when_nobody_listens_any_more():
    """Its input is closed in the middle of the work, while whoever asked lives on."""
    with subprocess.Popen(
        running.COMMAND, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as solver:
        solver.stdin.write(asked_for_minutes())
        solver.stdin.flush()
        assert "by_hand" in json.loads(solver.stdout.readline())
        solver.stdin.close()

        assert solver.wait(20) == 1


def test_a_line_that_was_cut_short_is_no_season():
    half = asked_for_minutes()[:1000]

    ended = subprocess.run(running.COMMAND, input=half, text=True, capture_output=True)

    assert (ended.returncode, ended.stdout, ended.stderr) == (1, "", "")


def assert_gone(pid: int) -> None:
    ends = time.monotonic() + 15
    while is_alive(pid) and time.monotonic() < ends:
        time.sleep(0.2)
    assert not is_alive(pid)


def is_alive(pid: int) -> bool:
    try:
        with open(f"/proc/{pid}/stat") as status:
            return status.read().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False


# Sending it -------------------------------------------------------------------------------
def test_offers_are_sent_once_for_each_pair(season, offered, coordinator):
    plan = worked_out(season, coordinator)

    sent = send_offers(plan=plan, on=TODAY, by=coordinator)
    again = send_offers(plan=plan, on=TODAY, by=coordinator)

    assert len(sent) == plan.pairs.count()
    assert again == []
    assert Commitment.objects.waiting().count() == len(sent)


def test_one_offer_that_cannot_be_sent_keeps_no_other_back(
    season, offered, varieties, coordinator
):
    plan = worked_out(season, coordinator)
    Lot.objects.filter(variety=varieties["bean"]).update(withheld_reason="crossed")
    beans = plan.pairs.filter(variety=varieties["bean"])

    sent = send_offers(plan=plan, on=TODAY, by=coordinator)

    assert len(sent) == plan.pairs.count() - beans.count()
    assert len(sent.refused) == beans.count()
    assert "No seed of Tarn Kettle is here" in sent.refused[0]
    with pytest.raises(Conflict, match="No seed of Tarn Kettle"):
        send_offers(plan=plan, on=TODAY, by=coordinator, pairs=beans)


def test_what_cannot_be_sown_takes_nobodys_room(season, offered, varieties, coordinator):
    Lot.objects.filter(variety=varieties["bean"]).update(withheld_reason="crossed")

    plan = worked_out(season, coordinator)

    (left,) = plan.left_out.all()
    assert (left.variety, left.why) == (varieties["bean"], {"no_seed": True})
    assert PlanReading(plan).left_out[0].obstacles == [
        "no seed of it is here that could be sown"
    ]
    assert PlanReading(plan).unknown[-1].startswith("1 variety without seed here is counted in")
    assert check_plan(plan) == []


def test_a_plan_after_offers_keeps_what_was_offered(season, offered, coordinator):
    first = worked_out(season, coordinator)
    send_offers(plan=first, on=TODAY, by=coordinator)

    second = worked_out(season, coordinator)

    assert {(p.variety_id, p.garden_id) for p in first.pairs.all()} <= {
        (p.variety_id, p.garden_id) for p in second.pairs.all()
    }


def test_unpinning_frees_the_next_plan(season, offered, varieties, coordinator):
    held = pin(season=season, variety=varieties["bean"], garden=offered[0].garden,
               kind="keep", by=coordinator)  # fmt: skip

    unpin(pin=held, by=coordinator)

    assert given(season).pinned == frozenset()


def test_a_garden_that_was_removed_meanwhile_is_left_out(season, offered, coordinator):
    ask_plan(season=season, on=TODAY, by=coordinator, seconds=3)
    plan = claim_next(worker="w")
    Garden.objects.filter(pk=offered[0].garden_id).delete()

    work_on(plan)
    plan.refresh_from_db()

    assert plan.state == Plan.State.DONE
    assert offered[0].garden_id not in plan.pairs.values_list("garden", flat=True)
