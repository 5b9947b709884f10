"""The questions asked of the card file."""

from __future__ import annotations

from typing import cast

from django.db import models
from django.db.models import Count, Exists, OuterRef, Q
from django.utils.translation import get_language

from accounts.roles import BORROW, COORDINATE
from library.catalogue.reference_words import choices_in, in_shown_order


class SpeciesQuerySet(models.QuerySet):
    def with_figures(self):
        return self.select_related("viability_constants").prefetch_related(
            "figures", "cautions"
        )


class CautionQuerySet(models.QuerySet):
    def about_species(self, species):
        return self.filter(species=species)

    def about_everything(self):
        return self.filter(for_everything=True)

    def about_hybrids(self):
        return self.filter(concerns="f1")

    def about_variety(self, variety):
        """Its species' cautions, and those of first-generation hybrids when it is one."""
        wanted = Q(species=variety.crop.species_id)
        if variety.breeding_status == "f1":
            wanted |= Q(concerns="f1")
        return self.filter(wanted).distinct().order_by("pk")


class CropQuerySet(models.QuerySet):
    def with_figures(self):
        return self.select_related("species__viability_constants").prefetch_related(
            "species__figures", "species__cautions"
        )

    def with_variety_count(self):
        return self.annotate(variety_count=Count("varieties"))

    def in_shown_order(self):
        """A list, by the names that the reader is shown."""
        return in_shown_order(self.order_by("name"), stored=lambda crop: crop.name)

    def choices(self):
        """Slug and shown name of each, in the order of the names, for a select."""
        rows = self.order_by("name").values_list("slug", "name")
        return choices_in(get_language(), tuple(rows))

    def crossing_with(self, crop):
        """The other kinds of the same species: they cross with this one."""
        return self.filter(species=crop.species_id).exclude(pk=crop.pk)


class VarietyQuerySet(models.QuerySet):
    def with_crop(self):
        return self.select_related("crop__species")

    def with_on_shelf(self):
        """Each variety says as ``is_on_shelf`` whether a packet of it could be lent."""
        return self.annotate(is_on_shelf=Exists(self._lots_to_lend()))

    def on_shelf(self):
        return self.filter(Exists(self._lots_to_lend()))

    def rare(self):
        return self.filter(is_rare=True)

    def _lots_to_lend(self):
        # The stock lies above the card file and may not be imported here. Its lots point at
        # varieties, so the ORM knows the way back by name ("lots"); that name is all we use.
        # Seed that is withheld or waits for its first test is there, but not for borrowing.
        lots = cast(type[models.Model], self.model._meta.get_field("lots").related_model)
        return lots._base_manager.filter(
            variety=OuterRef("pk"), packed__gt=0, withheld_reason="", awaits_first_test=False
        )


class SeasonNoteQuerySet(models.QuerySet):
    def with_author(self):
        return self.select_related("author", "variety")

    def written_by(self, member):
        return self.filter(author=member) if member.is_authenticated else self.none()

    def removable_by(self, member):
        """One's own notes; for a coordinator those too that others read."""
        if not member.is_authenticated:
            return self.none()
        if member.has_perm(COORDINATE):
            return self.filter(Q(author=member) | ~Q(readers="me"))
        return self.filter(author=member)

    def readable_by(self, member):
        """Everyone's open notes; for members those kept to members; one's own always."""
        if not member.is_authenticated:
            return self.filter(readers="everyone")
        if member.has_perm(BORROW):
            return self.filter(Q(readers__in=["everyone", "members"]) | Q(author=member))
        return self.filter(Q(readers="everyone") | Q(author=member))
