"""The card file in Django's admin, for administrators to look.

Cards are changed on their own page, where the change is written down; here they are read.
"""

from __future__ import annotations

from django.contrib import admin

from accounts.admin import ReadOnly, ReadOnlyAdmin
from library.catalogue.models import (
    Caution,
    Crop,
    ReferenceFile,
    SeasonNote,
    Species,
    SpeciesFigure,
    Variety,
    VarietyEdit,
    VarietyName,
    ViabilityConstants,
)


class FigureInline(ReadOnly, admin.TabularInline):
    model = SpeciesFigure
    extra = 0


class ConstantsInline(ReadOnly, admin.TabularInline):
    model = ViabilityConstants
    extra = 0


class NameInline(ReadOnly, admin.TabularInline):
    model = VarietyName
    extra = 0


class EditInline(ReadOnly, admin.TabularInline):
    model = VarietyEdit
    extra = 0


@admin.register(Species)
class SpeciesAdmin(ReadOnlyAdmin):
    list_display = ["botanical_name", "common_name", "family", "pollination"]
    search_fields = ["botanical_name", "common_name", "synonyms"]
    inlines = [FigureInline, ConstantsInline]


@admin.register(Crop)
class CropAdmin(ReadOnlyAdmin):
    list_display = ["name", "species", "life_cycle", "counted_as"]
    list_filter = ["life_cycle", "counted_as"]
    search_fields = ["name", "other_names"]


@admin.register(Caution)
class CautionAdmin(ReadOnlyAdmin):
    list_display = ["topic", "how", "for_everything", "concerns"]


@admin.register(Variety)
class VarietyAdmin(ReadOnlyAdmin):
    list_display = ["name", "crop", "breeding_status", "is_rare"]
    list_filter = ["breeding_status", "is_rare"]
    search_fields = ["names__folded", "name"]
    inlines = [NameInline, EditInline]


@admin.register(SeasonNote)
class SeasonNoteAdmin(ReadOnlyAdmin):
    """Who wrote when, and not what: a note's readers are its author's to choose."""

    list_display = ["variety", "year", "author", "readers"]
    fields = ["variety", "year", "author", "readers", "written_at"]


@admin.register(ReferenceFile)
class ReferenceFileAdmin(ReadOnlyAdmin):
    list_display = ["name", "read_at", "digest"]
