"""The questions asked of a household's plans. Not even coordinators see them."""

from __future__ import annotations

from django.db import models
from django.db.models import Count


class SavingPlanQuerySet(models.QuerySet):
    def of(self, member):
        return self.filter(garden__member=member)

    def visible_to(self, member):
        """One's own, and nobody else's."""
        return self.of(member) if member.is_authenticated else self.none()

    def with_details(self):
        return self.select_related("garden__member").annotate(varieties=Count("choices"))


class SavedVarietyQuerySet(models.QuerySet):
    def of(self, member):
        return self.filter(plan__garden__member=member)

    def visible_to(self, member):
        return self.of(member) if member.is_authenticated else self.none()

    def with_details(self):
        return self.select_related(
            "plan__garden__member", "variety__crop__species__viability_constants", "lot"
        )


class KitchenPlanQuerySet(models.QuerySet):
    def of(self, member):
        return self.filter(garden__member=member)

    def visible_to(self, member):
        return self.of(member) if member.is_authenticated else self.none()

    def with_details(self):
        return self.select_related("garden__member").annotate(what=Count("dishes"))


class DishQuerySet(models.QuerySet):
    def of(self, member):
        return self.filter(plan__garden__member=member)

    def visible_to(self, member):
        return self.of(member) if member.is_authenticated else self.none()

    def with_details(self):
        return self.select_related(
            "plan__garden__member",
            "crop__species__viability_constants",
            "variety__crop__species__viability_constants",
        )
