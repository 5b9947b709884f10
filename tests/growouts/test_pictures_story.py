"""How a season went: counts, new lots, what it changed, and who may read whose name."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from library.growouts.models import CommitmentLoan, MilestonePhoto, MilestoneReport, Plan
from library.growouts.pictures.story import story_of
from library.lending.models import Loan, Return, ReturnedLoan
from library.photos.models import Photo
from tests.growouts.conftest import TODAY


@pytest.fixture
def fulfilled(make_commitment, make_variety, make_lot):
    """``fulfilled(variety, grower)``: seed came back as a new lot; with what was counted."""

    def make(variety, grower, *, seeds=400, **facts):
        lot = make_lot(variety, seeds=seeds)
        seed_return = Return.objects.create(
            state="received",
            member=grower,
            seeds=seeds,
            harvest_year=TODAY.year,
            received_at="2026-02-09T10:00:00Z",
            lot=lot,
        )
        commitment = make_commitment(
            variety,
            grower,
            state="fulfilled",
            closed_on=TODAY,
            seed_return=seed_return,
            steps=(("sown", TODAY), ("stand", TODAY), ("harvested", TODAY)),
            **facts,
        )
        sown = make_lot(variety, seeds=2, packets=1, seeds_each=2).packets.get()
        loan = Loan.objects.create(
            packet=sown, borrower=grower, lent_on=TODAY, due_on=TODAY, closed_on=TODAY,
            outcome="returned", due_rule="annual",
        )  # fmt: skip
        CommitmentLoan.objects.create(commitment=commitment, loan=loan)
        ReturnedLoan.objects.create(seed_return=seed_return, loan=loan)
        return commitment

    return make


def report(commitment, kind, number, **facts):
    milestone = commitment.milestones.get(kind=kind)
    return MilestoneReport.objects.create(milestone=milestone, on=TODAY, number=number, **facts)


@pytest.fixture
def failed(make_commitment, make_variety):
    def make(grower, cause, variety=None):
        return make_commitment(
            variety or make_variety(), grower, state="failed", cause=cause, closed_on=TODAY
        )

    return make


def test_a_season_in_numbers_and_in_a_sentence(
    season,
    coordinator,
    make_commitment,
    make_variety,
    make_wanted,
    make_member,
    fulfilled,
    failed,
):
    kite, lark = make_member("kite"), make_member("lark")
    renewed = make_variety("Tarn Kettle")
    make_wanted(renewed)
    fulfilled(renewed, kite)
    failed(lark, "hail")
    failed(kite, "hail")
    failed(lark, "pests")
    make_commitment(make_variety(), lark, state="accepted")
    make_commitment(make_variety(), lark, state="declined", closed_on=TODAY)
    make_commitment(make_variety(), lark, state="lapsed", closed_on=TODAY)
    found = story_of(season, viewer=coordinator, on=TODAY)

    assert (found.wanted, found.promised, found.returned) == (1, 5, 1)
    assert (found.failed, found.growing, found.declined) == (3, 1, 2)
    assert [(c.cause, c.n) for c in found.causes] == [("hail", 2), ("pests", 1)]
    assert found.summary == (
        "For 2026, 5 grow-outs were promised. Seed came back of 1. 3 failed (hail or storm: 2, "
        "slugs, insects, mice or birds: 1). 1 is growing. "
        "1 variety was renewed, in new lots: 1."
    )


def test_nothing_was_promised(season, coordinator):
    found = story_of(season, viewer=coordinator, on=TODAY)

    assert found.summary == "Nothing was promised for 2026."
    assert found.expected_losses is None


def test_what_was_counted_is_told_and_a_later_report_corrects(
    season, coordinator, make_variety, member, fulfilled
):
    commitment = fulfilled(make_variety("Tarn Kettle"), member)
    report(commitment, "stand", 30)
    report(commitment, "stand", 28)
    report(commitment, "harvested", 25)
    (row,) = story_of(season, viewer=coordinator, on=TODAY).varieties

    (one,) = row.grown
    assert (one.sown, one.stood, one.gave_seed) == (None, 28, 25)
    assert one.lots[0].href == reverse("lot-chain", args=[row.lots[0].number])
    assert row.lots[0].seeds == 400


def test_seed_that_came_back_lowers_the_chance_of_loss(
    season, coordinator, make_variety, make_lot, member, fulfilled
):
    variety = make_variety("Tarn Kettle", crop="drying bean")
    make_lot(variety, seeds=12)
    fulfilled(variety, member, seeds=4000)
    (row,) = story_of(season, viewer=coordinator, on=TODAY).varieties

    assert row.now < row.without <= 1
    assert row.planned is None


def test_a_promise_lowers_it_and_last_seasons_counts_in_both(
    season, coordinator, make_variety, member, other_member, make_commitment
):
    variety = make_variety("Tarn Kettle")
    make_commitment(variety, member, state="accepted")
    (row,) = story_of(season, viewer=coordinator, on=TODAY).varieties
    assert (row.without, row.now < 1) == (1, True)

    earlier = make_commitment(variety, other_member, state="accepted")
    earlier.season = type(season).objects.create(year=season.year - 1)
    earlier.save()
    (again,) = story_of(season, viewer=coordinator, on=TODAY).varieties
    assert again.without == pytest.approx(row.now)
    assert again.now < again.without


def test_what_the_plan_was_made_with_is_told_as_it_was_recorded(
    season, coordinator, make_variety, make_wanted
):
    variety = make_variety("Tarn Kettle")
    make_wanted(variety)
    Plan.objects.create(
        season=season,
        state="done",
        seconds=1,
        asked_at="2026-01-15T09:00:00Z",
        finished_at="2026-01-15T09:01:00Z",
        given={"varieties": [{"key": f"v{variety.pk}", "loss": 0.25}]},
    )
    found = story_of(season, viewer=coordinator, on=TODAY)

    assert found.varieties[0].planned == 0.25
    assert found.planned_on == dt.date(2026, 1, 15)


@pytest.mark.parametrize("cause", ["illness", "neglect", "crossed", "other"])
def test_members_read_of_a_personal_cause_only_that_there_was_another(
    cause, season, member, other_member, coordinator, failed
):
    failed(other_member, cause)

    assert [c.cause for c in story_of(season, viewer=member, on=TODAY).causes] == ["other"]
    told = story_of(season, viewer=coordinator, on=TODAY)
    assert [c.cause for c in told.causes] == [cause]


def test_who_failed_is_named_to_themselves_and_to_coordinators(
    season, member, other_member, coordinator, failed, client
):
    failed(other_member, "hail")

    def named(viewer):
        rows = story_of(season, viewer=viewer, on=TODAY).varieties
        return [one.grower for row in rows for one in row.grown]

    assert named(member) == []
    assert named(other_member) == ["rook"]
    assert named(coordinator) == ["rook"]
    client.force_login(member)
    for address in ("season-story", "api-season-story"):
        page = client.get(reverse(address, args=[season.year])).content.decode()
        assert "rook" not in page
        assert "hail" in page


def test_what_others_have_counted_so_far_is_theirs(
    season, member, other_member, make_commitment, make_variety
):
    growing = make_commitment(
        make_variety(), other_member, state="accepted", steps=(("stand", TODAY),)
    )
    report(growing, "stand", 7)

    def stood(viewer):
        (row,) = story_of(season, viewer=viewer, on=TODAY).varieties
        return [one.stood for one in row.grown]

    assert stood(member) == [None]
    assert stood(other_member) == [7]


def test_photos_are_seen_by_who_took_them_and_by_coordinators(
    season, member, other_member, coordinator, make_variety, fulfilled
):
    told = report(fulfilled(make_variety("Tarn Kettle"), member), "harvested", 5)
    photo = Photo.objects.create(content=b"x", content_type="image/jpeg", width=4, height=3)
    MilestonePhoto.objects.create(report=told, photo=photo)

    def photos(viewer):
        return [p.caption for p in story_of(season, viewer=viewer, on=TODAY).photos]

    assert photos(member) == photos(coordinator) == ["Tarn Kettle"]
    assert photos(other_member) == []


@pytest.mark.parametrize("address", ["season-story", "api-season-story"])
def test_as_many_questions_for_many_varieties_as_for_one(
    address,
    client,
    season,
    coordinator,
    make_variety,
    make_member,
    fulfilled,
    make_wanted,
    django_assert_max_num_queries,
):
    client.force_login(coordinator)
    url = reverse(address, args=[season.year])

    def grow(n):
        variety = make_variety()
        make_wanted(variety)
        report(fulfilled(variety, make_member(f"grower {n}")), "stand", 20)

    grow(0)
    client.get(url)  # estimates are made when first asked for, for all lots at once
    with django_assert_max_num_queries(60) as first:
        assert client.get(url).status_code == 200
    asked = len(first.captured_queries)
    for n in range(1, 7):
        grow(n)
    client.get(url)
    with django_assert_max_num_queries(asked):
        assert client.get(url).status_code == 200


def test_the_page_compares_without_the_season_and_now(
    client, season, member, make_variety, make_commitment
):
    make_commitment(make_variety("Tarn Kettle"), member, state="accepted")
    client.force_login(member)
    page = client.get(reverse("season-story", args=[season.year])).content.decode()

    assert "Of this 1 variety 1.0 would be lost" in page
    assert "without this season" in page
    assert "style=" not in page


def test_the_season_page_leads_to_the_pictures_and_tells_what_is_late(
    client, season, member, make_variety, make_commitment
):
    make_commitment(
        make_variety(), member, state="accepted", steps=(("sown", dt.date(2026, 2, 1)),)
    )
    client.force_login(member)
    page = client.get(season.get_absolute_url()).content.decode()

    for name in ("season-calendar", "season-map", "season-story"):
        assert reverse(name, args=[season.year]) in page
    assert "A step of 1 of your grow-outs is late." in page
