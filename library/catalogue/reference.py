"""Loading the reference files into the card file."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.db import models, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from library.catalogue import sheets
from library.catalogue.models import (
    Caution,
    ReferenceFile,
    Species,
    SpeciesFigure,
    ViabilityConstants,
)
from library.errors import Refused

DIRECTORY = Path(settings.BASE_DIR) / "fixtures" / "reference"
CONSTANTS = "viability_constants.csv"
FILES = ("species.csv", "crops.csv", "cautions.csv", CONSTANTS)


@dataclass(frozen=True)
class ReferenceLoad:
    """What was read; ``changed`` is False when the files were as last time."""

    changed: bool
    species: int = 0
    figures: int = 0
    crops: int = 0
    cautions: int = 0
    constants: int = 0


def load_reference(*, directory: Path = DIRECTORY, force: bool = False) -> ReferenceLoad:
    """Bring species, crops, figures and cautions in step with the reference files.

    Files that are as they were at the last load cost one query. A changed file updates what it
    names; no species or crop is ever removed, since varieties may hang on it. All or nothing:
    a row that is not understood is Refused, and nothing changes.
    """
    contents = {name: _read(directory / name) for name in FILES}
    digests = {name: hashlib.sha256(contents[name]).hexdigest() for name in FILES}
    with transaction.atomic():
        known = dict(ReferenceFile.objects.filter(name__in=FILES).values_list("name", "digest"))
        if known == digests and not force:
            return ReferenceLoad(changed=False)
        loaded = _load(contents)
        _upsert(
            [
                ReferenceFile(name=name, digest=digest, read_at=timezone.now())
                for name, digest in digests.items()
            ],
            by=["name"],
        )
    return loaded


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise Refused(_("%(path)s cannot be read.") % {"path": path.name}) from error


def _load(contents: dict[str, bytes]) -> ReferenceLoad:
    species, figures = _load_species(contents["species.csv"])
    crops = _load_crops(contents["crops.csv"], species)
    cautions = _load_cautions(contents["cautions.csv"], species)
    constants = _load_constants(contents[CONSTANTS], species)
    return ReferenceLoad(True, len(species), figures, crops, cautions, constants)


def _load_species(content: bytes) -> tuple[dict[str, Species], int]:
    rows = list(sheets.rows_of("species.csv", content))
    species = _by_name(rows, sheets.species_of, "species.csv")
    _upsert(species, by=["botanical_name"])
    saved = {one.botanical_name: one for one in Species.objects.all()}
    figures = [
        figure
        for row in rows
        for figure in sheets.figures_of(row, saved[row["botanical_name"]])
    ]
    # A figure that left the file is known no longer; nothing points at a figure.
    SpeciesFigure.objects.filter(
        species__in=[saved[s.botanical_name] for s in species]
    ).delete()
    SpeciesFigure.objects.bulk_create(figures)
    return {s.botanical_name: saved[s.botanical_name] for s in species}, len(figures)


def _by_name(rows, read: Callable[[sheets.Row], Species], file: str) -> list[Species]:
    species = [read(row) for row in rows]
    return sheets.once(species, lambda one: one.botanical_name, file)


def _load_crops(content: bytes, species: dict[str, Species]) -> int:
    crops = [sheets.crop_of(row, species) for row in sheets.rows_of("crops.csv", content)]
    sheets.once(crops, lambda crop: crop.slug, "crops.csv")
    _upsert(crops, by=["name"])
    return len(crops)


def _load_cautions(content: bytes, species: dict[str, Species]) -> int:
    pairs = [sheets.caution_of(row, species) for row in sheets.rows_of("cautions.csv", content)]
    sheets.once([caution for caution, _about in pairs], lambda one: one.topic, "cautions.csv")
    _upsert([caution for caution, _about in pairs], by=["topic"])
    saved = {caution.topic: caution for caution in Caution.objects.all()}
    link = Caution.species.through
    topics = [caution.topic for caution, _about in pairs]
    link.objects.filter(caution__topic__in=topics).delete()
    link.objects.bulk_create(
        link(caution=saved[caution.topic], species=one)
        for caution, about in pairs
        for one in about
    )
    return len(pairs)


def _load_constants(content: bytes, species: dict[str, Species]) -> int:
    """Put the recommended constants in place of what was there; nothing points at them."""
    constants = list(sheets.constants_of(list(sheets.rows_of(CONSTANTS, content)), species))
    sheets.once(constants, lambda one: one.species.botanical_name, CONSTANTS)
    ViabilityConstants.objects.filter(species__in=species.values()).delete()
    ViabilityConstants.objects.bulk_create(constants)
    return len(constants)


def _upsert(rows: Sequence[models.Model], *, by: list[str]) -> None:
    """Insert the rows, or update those that are there, told apart by the named fields."""
    if not rows:
        raise Refused(_("A reference file without a row would empty the card file."))
    model = type(rows[0])
    fields = [
        field.name
        for field in model._meta.concrete_fields
        if not field.primary_key and field.name not in by
    ]
    model._default_manager.bulk_create(
        rows, update_conflicts=True, unique_fields=by, update_fields=fields
    )
