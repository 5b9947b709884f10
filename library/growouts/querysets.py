"""The questions asked of seasons, plans and promises."""

from __future__ import annotations

import datetime as dt

from django.db import models
from django.db.models import Count, Exists, OuterRef, Q

from accounts.roles import COORDINATE

OPEN = ("offered", "accepted")
TAKEN_OVER = (*OPEN, "fulfilled", "failed")


class ElsewhereQuerySet(models.QuerySet):
    def newest_first(self):
        return self.order_by("-known_on", "-pk")


class SeasonQuerySet(models.QuerySet):
    def open(self):
        """Seasons that are not over."""
        return self.filter(closed_on=None)

    def with_counts(self):
        """Each says how many varieties it wants (``varieties``), how many growers offer
        gardens (``growers``), and how many promised to grow something (``promises``).
        """
        standing = Q(
            offers__withdrawn_at=None,
            offers__member__is_active=True,
            offers__member__membership="approved",
        )
        promised = Q(commitments__state__in=["accepted", "fulfilled"])
        return self.annotate(
            varieties=Count("wanted", distinct=True),
            growers=Count("offers", standing, distinct=True),
            promises=Count("commitments", promised, distinct=True),
        )


class WantedVarietyQuerySet(models.QuerySet):
    def with_variety(self):
        return self.select_related("variety__crop__species")


class GrowerOfferQuerySet(models.QuerySet):
    def standing(self):
        """Offers that were not withdrawn, of people who are still members."""
        return self.filter(
            withdrawn_at=None, member__is_active=True, member__membership="approved"
        )

    def visible_to(self, member):
        """One's own; every one for a coordinator."""
        if not member.is_authenticated:
            return self.none()
        return self if member.has_perm(COORDINATE) else self.filter(member=member)

    def of(self, member):
        return self.filter(member=member)

    def with_details(self):
        return self.select_related("member", "season").prefetch_related("gardens__garden")


class GardenOfferQuerySet(models.QuerySet):
    def standing(self, season):
        """The gardens that can be planned with in a season."""
        return self.filter(
            offer__season=season,
            offer__withdrawn_at=None,
            offer__member__is_active=True,
            offer__member__membership="approved",
        )


class OwnPlantingQuerySet(models.QuerySet):
    def in_year(self, year: int):
        return self.filter(year=year)

    def flowering(self):
        return self.filter(flowers=True)

    def of(self, member):
        return self.filter(garden__member=member)

    def visible_to(self, member):
        """One's own; every one for a coordinator, who may see gardens."""
        if not member.is_authenticated:
            return self.none()
        return self if member.has_perm(COORDINATE) else self.of(member)

    def with_details(self):
        return self.select_related("garden__member", "species", "variety__crop")


class PlanQuerySet(models.QuerySet):
    def at_work(self):
        return self.filter(state__in=["waiting", "solving"])

    def ended_well(self):
        """Plans that have something to show."""
        return self.filter(state__in=["done", "stopped"])


class CommitmentQuerySet(models.QuerySet):
    def visible_to(self, member):
        """One's own; every one for a coordinator."""
        if not member.is_authenticated:
            return self.none()
        return self if member.has_perm(COORDINATE) else self.of(member)

    def of(self, member):
        return self.filter(grower=member)

    def open(self):
        """Offered or promised: they bind a garden."""
        return self.filter(state__in=OPEN)

    def waiting(self):
        return self.filter(state="offered")

    def growing(self):
        """Promised and not over."""
        return self.filter(state="accepted")

    def promised(self):
        """What a grower said yes to, and did not fail at: members may know who grows what."""
        return self.filter(state__in=["accepted", "fulfilled"])

    def unanswered(self, on: dt.date):
        """Offers whose last day has passed."""
        return self.waiting().filter(answer_by__lt=on)

    def not_taken_over(self):
        """Failed in a season that goes on, and nobody took it over or is asked to; of one that
        failed again only the last.
        """
        others = self.model._default_manager
        taken = others.filter(replaces=OuterRef("pk"), state__in=TAKEN_OVER)
        failed = self.filter(state="failed", season__closed_on=None)
        return failed.exclude(Exists(taken))

    def taken_over(self):
        """Of those asked in place of another: who did not say no."""
        return self.filter(state__in=TAKEN_OVER)

    def with_details(self):
        return self.select_related(
            "season", "variety__crop__species", "grower", "garden", "suggested"
        )


class MilestoneQuerySet(models.QuerySet):
    def to_come(self):
        """Not done yet, of promises that stand."""
        return self.filter(Q(done_on=None) & Q(commitment__state="accepted"))

    def awaited(self):
        """To come, and no later step was told of: who harvests will not count seedlings."""
        later = self.model._default_manager.filter(
            commitment=OuterRef("commitment"), step__gt=OuterRef("step"), done_on__isnull=False
        )
        return self.to_come().exclude(Exists(later))

    def late(self, on: dt.date):
        return self.awaited().filter(due_on__lt=on)

    def with_promise(self):
        """With what is grown by whom, the earliest day first."""
        rows = self.select_related("commitment__variety", "commitment__grower")
        return rows.order_by("due_on", "pk")


class MilestonePhotoQuerySet(models.QuerySet):
    def visible_to(self, member):
        """Of those promises that the member may see."""
        seen = self.model._meta.apps.get_model("growouts", "Commitment").objects
        return self.filter(report__milestone__commitment__in=seen.visible_to(member))

    def named(self):
        """What a page needs to show where they are: the pictures themselves stay there."""
        return self.select_related("photo").defer("photo__content").order_by("pk")
