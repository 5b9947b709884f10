"""A season with one of everything that an address can name."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

from library.growouts.models import (
    Commitment,
    Elsewhere,
    GardenOffer,
    GrowerOffer,
    LeftOut,
    Milestone,
    MilestonePhoto,
    MilestoneReport,
    OwnPlanting,
    Pin,
    Plan,
    PlannedPair,
    Season,
    WantedVariety,
)
from library.photos.models import Photo


def plan_a_season(things: SimpleNamespace, members: dict, today: dt.date) -> None:
    """The owner offers a garden, is planned for, was offered one variety and grows another."""
    owner, coordinator = members["owner"], members["coordinator"]
    things.season = Season.objects.create(year=today.year + 1, opened_by=coordinator)
    things.wanted = WantedVariety.objects.create(season=things.season, variety=things.variety)
    things.offer = GrowerOffer.objects.create(season=things.season, member=owner, most=3)
    things.garden_offer = GardenOffer.objects.create(
        offer=things.offer, garden=things.garden, room_m2=40
    )
    things.planting = OwnPlanting.objects.create(
        garden=things.garden,
        year=things.season.year,
        species=things.variety.crop.species,
        name="a climbing bean of my own",
    )
    things.plan = Plan.objects.create(
        season=things.season, state="done", seconds=1, finished_at="2026-10-01T09:00:00Z"
    )
    things.pair = PlannedPair.objects.create(
        plan=things.plan, variety=things.variety, garden=things.garden
    )
    things.left_out = LeftOut.objects.create(
        plan=things.plan, variety=things.loan.packet.lot.variety
    )
    things.pin = Pin.objects.create(
        season=things.season, variety=things.variety, garden=things.garden, kind="keep"
    )
    _quiet(things, owner, today)
    things.elsewhere = Elsewhere.objects.create(
        variety=things.variety, ease="doubtful", known_on=today, recorded_by=owner
    )
    _commitments(things, owner, coordinator, today)


def _quiet(things: SimpleNamespace, owner, today: dt.date) -> None:
    """A season in which nothing is promised, an offer in it, and a season that is over."""
    things.quiet_season = Season.objects.create(year=today.year + 2)
    things.quiet_offer = GrowerOffer.objects.create(season=things.quiet_season, member=owner)
    GardenOffer.objects.create(
        offer=things.quiet_offer, garden=things.second_garden, room_m2=10
    )
    WantedVariety.objects.create(
        season=things.quiet_season, variety=things.loan.packet.lot.variety
    )
    things.past_season = Season.objects.create(year=today.year - 1, closed_on=today)


def _commitments(things: SimpleNamespace, owner, coordinator, today: dt.date) -> None:
    facts = {"season": things.season, "grower": owner, "garden": things.garden, "plants": 20}
    facts |= {"answer_by": today + dt.timedelta(days=14), "offered_by": coordinator}
    things.offered = Commitment.objects.create(variety=things.variety, **facts)
    things.promised = Commitment.objects.create(
        variety=things.loan.packet.lot.variety, state="accepted", answered_on=today, **facts
    )
    things.growout_photo = Photo.objects.create(
        content=b"a picture", content_type="image/jpeg", width=1, height=1
    )
    things.milestone = Milestone.objects.create(
        commitment=things.promised, kind="sown", step=1, due_on=today, rule="milestone_sown"
    )
    report = MilestoneReport.objects.create(milestone=things.milestone, on=today)
    MilestonePhoto.objects.create(report=report, photo=things.growout_photo)
