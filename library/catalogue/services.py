"""What people do with the card file: each function one transaction.

The desk keeps the cards; breeding status and crop, on which seed saving rests, are changed by a
coordinator only. Season notes are in ``notes``; reference data in ``reference``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from accounts.models import Member
from accounts.roles import COORDINATE, SERVE_DESK
from library.catalogue.checks import checked, tidy_line, tidy_text
from library.catalogue.models import BreedingStatus, Crop, Variety, VarietyEdit, VarietyName
from library.catalogue.names import fold
from library.catalogue.notes import edit_note, put_note_back, remove_note, write_note
from library.catalogue.reference import load_reference
from library.errors import Conflict, NotAllowed, Refused

__all__ = [
    "add_synonym",
    "add_variety",
    "edit_note",
    "edit_variety",
    "load_reference",
    "put_note_back",
    "remove_note",
    "remove_synonym",
    "revision_of",
    "write_note",
]

COORDINATORS_FIELDS = frozenset({"crop", "breeding_status", "generation"})
DESK_FIELDS = frozenset(
    {
        "name",
        "description",
        "origin_story",
        "days_to_maturity",
        "own_caution",
        "is_rare",
        "min_population",
        "synonyms",
    }
)
TEXTS = ("description", "origin_story", "own_caution")
MOST_SYNONYMS = 30


@transaction.atomic
def add_variety(
    *,
    crop: Crop,
    name: str,
    breeding_status: str,
    by: Member,
    generation: int | None = None,
    synonyms: Iterable[str] = (),
    description: str = "",
    origin_story: str = "",
    days_to_maturity: int | None = None,
    own_caution: str = "",
    is_rare: bool = False,
    min_population: int | None = None,
) -> Variety:
    """Write a new card. A crop has one card of a name, whatever its accents and case."""
    _may_keep_cards(by)
    variety = Variety(
        crop=crop,
        name=tidy_line(name, field="name"),
        breeding_status=breeding_status,
        generation=generation,
        description=tidy_text(description, field="description"),
        origin_story=tidy_text(origin_story, field="origin_story"),
        days_to_maturity=days_to_maturity,
        own_caution=tidy_text(own_caution, field="own_caution"),
        is_rare=is_rare,
        min_population=min_population,
        added_by=by,
    )
    _save_card(variety)
    VarietyName.objects.create(
        variety=variety, name=variety.name, folded=fold(variety.name), is_synonym=False
    )
    _set_synonyms(variety, list(synonyms))
    return variety


@transaction.atomic
def edit_variety(
    *, variety: Variety, by: Member, changes: Mapping[str, Any], revision: int | None = None
) -> Variety:
    """Change a card and write down who changed what.

    ``changes`` maps fields (and ``synonyms``, a list of names) to what they should be; what is
    as it was is left alone. With ``revision`` (see ``revision_of``) a card that somebody else
    changed meanwhile is a Conflict. A variety that is renamed stays known by its old name.
    """
    _may_keep_cards(by)
    card = Variety.objects.select_for_update(of=("self",)).with_crop().get(pk=variety.pk)
    if revision is not None and revision != revision_of(card):
        raise Conflict(_("Somebody changed this card meanwhile. Look at it again, then edit."))
    wanted = _tidied(card, changes)
    changed = {field for field in wanted if wanted[field] != _value(card, field)}
    _may_change(by, changed)
    VarietyEdit.objects.bulk_create(
        _edit(card, field, wanted[field], by) for field in sorted(changed)
    )
    old_name = card.name
    for field in changed - {"synonyms"}:
        setattr(card, field, wanted[field])
    _check_counting(card, changed)
    if changed - {"synonyms"}:
        _save_card(card, update_fields=changed - {"synonyms"})
    if "name" in changed:
        _rename(card, old_name)
    if "synonyms" in changed:
        _set_synonyms(card, wanted["synonyms"])
    return card


def add_synonym(*, variety: Variety, name: str, by: Member) -> None:
    """Let a variety be found by one more name; a name it has already changes nothing."""
    with transaction.atomic():
        known = synonyms_of(variety)
        if fold(name) not in {fold(each) for each in [variety.name, *known]}:
            edit_variety(variety=variety, by=by, changes={"synonyms": [*known, name]})


def remove_synonym(*, variety: Variety, name: str, by: Member) -> None:
    """Let a variety be known by this name no longer."""
    with transaction.atomic():
        known = synonyms_of(variety)
        kept = [each for each in known if fold(each) != fold(name)]
        if kept == known:
            raise Refused(
                _("“%(name)s” is not a synonym of %(variety)s.")
                % {"name": name, "variety": variety.name},
                field="name",
            )
        edit_variety(variety=variety, by=by, changes={"synonyms": kept})


def synonyms_of(variety: Variety) -> list[str]:
    return [name.name for name in variety.names.all() if name.is_synonym]


def revision_of(variety: Variety) -> int:
    """The number of the card's last change; 0 for a card as it was first written."""
    last = variety.edits.order_by("-pk").values_list("pk", flat=True).first()
    return last or 0


def _may_keep_cards(by: Member) -> None:
    if not by.has_perm(SERVE_DESK):
        raise NotAllowed(_("Cards are written by the desk and by coordinators."))


def _may_change(by: Member, changed: set[str]) -> None:
    theirs = sorted(changed & COORDINATORS_FIELDS)
    if theirs and not by.has_perm(COORDINATE):
        raise NotAllowed(
            _("A coordinator changes the crop, breeding status and generation of a variety."),
            field=theirs[0],
        )


def _check_counting(card: Variety, changed: set[str]) -> None:
    if "crop" not in changed:
        return
    before = Crop.objects.get(varieties=card.pk)
    if before.counted_as != card.crop.counted_as:
        raise Refused(
            _("%(before)s is counted in %(one)s, %(after)s in %(other)s: its lots would lie.")
            % {
                "before": before.local_name,
                "one": before.get_counted_as_display(),
                "after": card.crop.local_name,
                "other": card.crop.get_counted_as_display(),
            },
            field="crop",
        )


def _save_card(variety: Variety, **options) -> None:
    _check_generation(variety)
    _check_name_is_free(variety)
    checked(variety, exclude={"added_by"})
    try:
        with transaction.atomic():
            variety.save(**options)
    except IntegrityError as error:
        # Somebody wrote the same card between our look and our write.
        _check_name_is_free(variety)
        raise error


def _check_generation(variety: Variety) -> None:
    segregating = variety.breeding_status == BreedingStatus.SEGREGATING
    if segregating and variety.generation is None:
        raise Refused(
            _("A segregating line needs its generation: 2 for F2, 3 for F3 and so on."),
            field="generation",
        )
    if not segregating and variety.generation is not None:
        raise Refused(
            _("Only a segregating line has a generation. Leave it empty for this status."),
            field="generation",
        )


def _check_name_is_free(variety: Variety) -> None:
    variety.folded_name = fold(variety.name)
    others = Variety.objects.filter(crop=variety.crop_id, folded_name=variety.folded_name)
    if other := others.exclude(pk=variety.pk).first():
        raise Refused(
            _("%(crop)s has a card for “%(name)s” already.")
            % {"crop": variety.crop.local_name, "name": other.name},
            field="name",
        )


def _tidied(card: Variety, changes: Mapping[str, Any]) -> dict[str, Any]:
    unknown = sorted(changes.keys() - DESK_FIELDS - COORDINATORS_FIELDS)
    if unknown:
        raise Refused(
            _("A card has no field “%(field)s” to change.") % {"field": unknown[0]},
            field=unknown[0],
        )
    wanted = dict(changes)
    if "name" in wanted:
        wanted["name"] = tidy_line(wanted["name"], field="name")
    for field in TEXTS:
        if field in wanted:
            wanted[field] = tidy_text(wanted[field], field=field)
    if "synonyms" in wanted:
        own_name = wanted.get("name", card.name)
        wanted["synonyms"] = _tidy_synonyms(own_name, wanted["synonyms"])
    return wanted


def _tidy_synonyms(own_name: str, names: Iterable[str]) -> list[str]:
    """The names in order, each once, without the variety's own."""
    tidy = {fold(own_name): own_name}
    for name in names:
        line = tidy_line(name, field="synonyms", longest=120)
        tidy.setdefault(fold(line), line)
    del tidy[fold(own_name)]
    if len(tidy) > MOST_SYNONYMS:
        raise Refused(
            _("A variety can have at most %(most)s synonyms.") % {"most": MOST_SYNONYMS},
            field="synonyms",
        )
    return sorted(tidy.values())


def _set_synonyms(variety: Variety, names: list[str]) -> None:
    wanted = {fold(name): name for name in _tidy_synonyms(variety.name, names)}
    variety.names.filter(is_synonym=True).delete()
    VarietyName.objects.bulk_create(
        VarietyName(variety=variety, name=name, folded=folded)
        for folded, name in wanted.items()
    )


def _rename(variety: Variety, old_name: str) -> None:
    """Put the new name first; whoever knew the variety by the old one still finds it."""
    folded = fold(variety.name)
    variety.names.filter(is_synonym=True, folded=folded).delete()
    variety.names.filter(is_synonym=False).update(name=variety.name, folded=folded)
    if fold(old_name) != folded:
        variety.names.get_or_create(folded=fold(old_name), defaults={"name": old_name})


def _value(card: Variety, field: str) -> Any:
    return sorted(synonyms_of(card)) if field == "synonyms" else getattr(card, field)


def _edit(card: Variety, field: str, new: Any, by: Member) -> VarietyEdit:
    return VarietyEdit(
        variety=card,
        field=field,
        old_value=_written(_value(card, field)),
        new_value=_written(new),
        edited_by=by,
    )


def _written(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, list):
        return "; ".join(value)
    return str(value)
