"""People by their chosen names, and the card file."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from accounts.models import Member
from library.catalogue.models import Crop, SeasonNote, Species, Variety, VarietyName
from library.exchange.whole.table import (
    Column,
    Table,
    key,
    link,
    member,
    text,
    whole,
    words,
    yes_no,
)

PEOPLE = Table(
    "members",
    _("Members"),
    _("Who is named by the other tables: by the name that they chose, nothing else."),
    Member.objects.all,
    (
        key(),
        Column("name", "string", _("the name they chose"), of="display_name", chosen=True),
        text("role", _("member, desk, coordinator or administrator")),
        text("membership", _("applied, approved, declined or left")),
    ),
    mine=("pk",),
)

CARDS = (
    Table(
        "species",
        _("Species"),
        _("The crossing units: everything in one can cross."),
        Species.objects.all,
        (
            key(),
            text("botanical_name", _("botanical name")),
            text("common_name", _("as gardeners say it")),
            text("family", _("plant family")),
            text("pollination", _("self, insects, wind or clonal")),
            text("life_cycle", _("annual, biennial or perennial")),
            yes_no("dioecious", _("whether male and female plants are apart")),
            text("source", _("where these facts are from")),
        ),
    ),
    Table(
        "crops",
        _("Crops"),
        _("Kinds within a species as gardeners say them."),
        Crop.objects.all,
        (
            key(),
            link("species", "species", _("its species")),
            text("name", _("the crop's name")),
            text("counted_as", _("seeds, tubers, cloves or slips")),
        ),
    ),
    Table(
        "varieties",
        _("Varieties"),
        _("The card file."),
        Variety.objects.all,
        (
            key(),
            link("crop", "crops", _("its crop")),
            words("name", _("the variety's name")),
            text("breeding_status", _("open-pollinated, F1 hybrid, landrace, clone …")),
            whole("generation", _("2 for F2 and so on; empty elsewhere")),
            words("description", _("what it is like")),
            words("origin_story", _("where it came from, as told")),
            whole("days_to_maturity", _("days from sowing or planting out to the crop")),
            yes_no("is_rare", _("whether coordinators hold it to be rare")),
            whole("min_population", _("plants for seed, where not the species'")),
            words("own_caution", _("a caution of this variety's own")),
        ),
    ),
    Table(
        "variety_names",
        _("Names of varieties"),
        _("Other names under which a variety is found."),
        VarietyName.objects.all,
        (
            key(),
            link("variety", "varieties", _("the variety")),
            words("name", _("the name")),
            yes_no("is_synonym", _("false for the card's own name")),
        ),
    ),
    Table(
        "notes",
        _("Season notes"),
        _("What members noted of a variety in a year, where every member may read it."),
        lambda: SeasonNote.objects.exclude(readers="me"),
        (
            key(),
            link("variety", "varieties", _("the variety")),
            member("author", _("who wrote it")),
            whole("year", _("the season")),
            words("text", _("the note")),
            text("readers", _("members or everyone")),
        ),
        mine=("author",),
    ),
)
