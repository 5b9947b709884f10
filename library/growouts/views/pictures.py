"""The pages that show a season: on a calendar, on a plan of gardens, as a story."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.views.generic import TemplateView

from accounts.access import MemberPage
from accounts.models import Member
from accounts.roles import COORDINATE
from library.catalogue.browsing import options
from library.catalogue.reference_words import name_of_species
from library.growouts.models import Season
from library.growouts.pictures.asking import plan_asked, species_asked
from library.growouts.pictures.calendar import calendar_of
from library.growouts.pictures.gardens import GardenPlan, garden_plan, members_plan
from library.growouts.pictures.gardens.facts import Conflict
from library.growouts.pictures.gardens.layout import Drawn
from library.growouts.pictures.gardens.reading import (
    GardenRow,
    garden_words,
    kind_legend,
    metres_words,
    stand_words,
)
from library.growouts.pictures.story import story_of
from library.growouts.pictures.story.reading import Renewed
from library.provenance.words import share

MOST_ROWS = 400  # gardens in the table


class SeasonPicture(MemberPage, TemplateView):
    """A picture of the season of the year in the address, as who asks may see it."""

    @cached_property
    def season(self) -> Season:
        return get_object_or_404(Season, year=self.kwargs["year"])

    @property
    def asker(self) -> Member:
        return self.request.user

    @property
    def today(self) -> dt.date:
        return timezone.localdate()

    @property
    def coordinates(self) -> bool:
        return self.asker.has_perm(COORDINATE)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(
            season=self.season, coordinates=self.coordinates, **kwargs
        )


class SeasonCalendarPage(SeasonPicture):
    template_name = "growouts/pictures/calendar.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        late_only = self.request.GET.get("late") in ("true", "on", "1")
        calendar = calendar_of(
            self.season,
            viewer=self.asker,
            on=self.today,
            late_only=late_only,
            page=self.request.GET.get("page", "1"),
        )
        return super().get_context_data(
            calendar=calendar, page_obj=calendar.page, late_only=late_only, **kwargs
        )


class SeasonMapPage(SeasonPicture):
    """Coordinators see true places; everybody else coarse cells."""

    def get_template_names(self) -> list[str]:
        name = "gardens" if self.coordinates else "cells"
        return [f"growouts/pictures/{name}.html"]

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        if not self.coordinates:
            shown = members_plan(self.season, viewer=self.asker)
            return super().get_context_data(gardens=shown, **kwargs)
        plan = plan_asked(self.season, self.request.GET.get("plan", ""))
        species = species_asked(self.request.GET.get("species", ""))
        gardens = garden_plan(self.season, plan=plan, species=species)
        named = [(one.slug, one.local_name) for one in gardens.species_there]
        return super().get_context_data(
            gardens=gardens,
            plans=self.season.plans.ended_well().order_by("-pk")[:10],
            species_options=options(named, species.slug if species else ""),
            **shown_plan(gardens),
            **kwargs,
        )


def shown_plan(gardens: GardenPlan) -> dict[str, Any]:
    """The plan's pictures with what each mark says, and its tables."""
    there = gardens.kinds if gardens.rows else set()
    return {
        "drawn": [_with_words(drawn, gardens) for drawn in gardens.shapes],
        "circles_left_out": gardens.shapes[0].circles_left_out,
        "shapes_there": [(kind, words) for kind, words in kind_legend() if kind in there],
        "conflict_rows": [_conflict_row(conflict, gardens) for conflict in gardens.conflicts],
        "table": [_table_row(row, gardens) for row in gardens.rows[:MOST_ROWS]],
        "more_rows": max(0, len(gardens.rows) - MOST_ROWS),
    }


def _with_words(drawn: Drawn, gardens: GardenPlan) -> dict[str, Any]:
    return {
        "shape": drawn.shape,
        "height": drawn.height,
        "circles": drawn.circles,
        "conflicts": drawn.conflicts,
        "scale": drawn.scale,
        "north": drawn.north,
        "marks": [(mark, gardens.by_key[mark.garden].words) for mark in drawn.marks],
    }


def _conflict_row(conflict: Conflict, gardens: GardenPlan) -> dict[str, Any]:
    one, other = conflict.one, conflict.other
    apart = round(conflict.distance_m)
    return {
        "one": stand_words(one),
        "one_garden": garden_words(gardens.by_key[one.garden]),
        "other": stand_words(other),
        "other_garden": garden_words(gardens.by_key[other.garden]),
        "species": name_of_species(one.species_name),
        "unsure": conflict.unsure,
        "apart": _("same garden") if conflict.in_one_garden else metres_words(apart),
        "needed": metres_words(conflict.required_m),
        "short": metres_words(conflict.short_m),
    }


def _table_row(row: GardenRow, gardens: GardenPlan) -> tuple[Any, ...]:
    east, north = gardens.places[row.key]
    stands = [(stand_words(stand), stand) for stand in row.stands]
    return row, metres_words(round(east)), metres_words(round(north)), stands


class SeasonStoryPage(SeasonPicture):
    template_name = "growouts/pictures/story.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        story = story_of(self.season, viewer=self.asker, on=self.today)
        return super().get_context_data(
            story=story,
            rows=[_with_chances(row) for row in story.varieties],
            losses=story.expected_losses,
            **kwargs,
        )


def _with_chances(row: Renewed) -> dict[str, Any]:
    """A variety's chances of loss in words, and as bars from 0 to 100."""
    told = {"planned": row.planned, "without": row.without, "now": row.now}
    shown: dict[str, Any] = {
        name: "" if chance is None else share(chance) for name, chance in told.items()
    }
    bars = {f"{name}_bar": round(chance) for name, chance in row.percents}
    return {"renewed": row, **shown, **bars}
