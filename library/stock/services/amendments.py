"""Correcting what was recorded of a lot, and holding it back."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Model
from django.utils.formats import sanitize_separators
from django.utils.translation import gettext as _

from library import hooks
from library.errors import Conflict, Refused
from library.stock.models import Growing, Lot, LotAmendment, NumberSeries
from library.stock.services.checks import fields_of, fits, kept_here, said
from library.stock.services.descent import check_harvest_order
from library.stock.services.receiving import check_growing

# From what a lot's age and moisture tell, its viability is estimated.
_OF_VIABILITY = ("harvest_year", "moisture_percent")
LOT_FIELDS = (*_OF_VIABILITY, "origin_region", "origin_story", "source_name")
GROWING_FIELDS = tuple(
    f"growing.{field.name}"
    for field in Growing._meta.fields
    if field.name not in ("id", "lot", "garden")
)
AMENDABLE = (*LOT_FIELDS, *GROWING_FIELDS)


@transaction.atomic
def amend_lot(*, lot: Lot, field: str, value: Any, reason: str, by) -> LotAmendment:
    """Correct one recorded fact; the old value stays readable beside the new one."""
    if field not in AMENDABLE:
        raise Refused(
            _("“%(field)s” cannot be amended; one of these can: %(fields)s.")
            % {"field": field, "fields": ", ".join(AMENDABLE)},
            field="field",
        )
    if lot.is_elsewhere:
        raise Refused(
            _("Lot %(lot)s was kept by another library, and stays as that library told of it.")
            % {"lot": lot.number},
            field="lot",
        )
    reason = said(reason, most=2000)
    row = Lot.objects.select_for_update(no_key=True).get(pk=lot.pk)
    holder: Model = row
    name = field.removeprefix("growing.")
    if field in GROWING_FIELDS:
        holder = Growing.objects.filter(lot=row).first() or Growing(lot=row)
    old, new = getattr(holder, name), _parsed(holder, name, value)
    if old == new:
        raise Refused(_("That is what is recorded already."), field="value")
    setattr(holder, name, new)
    _check_amended(holder, name)
    # A growing row that did not exist is inserted whole; else only the one column is written.
    holder.save(update_fields=[name] if holder.pk else None)
    if field in _OF_VIABILITY:
        hooks.tell("lot_amended", lot=row)
    return LotAmendment.objects.create(
        lot=row,
        field=field,
        old_value=_as_text(old),
        new_value=_as_text(new),
        reason=reason,
        amended_by=by,
    )


def _parsed(holder: Model, name: str, value: Any) -> Any:
    """The value as the field keeps it, from text or from a number."""
    field: Any = holder._meta.get_field(name)
    if field.get_internal_type() in ("CharField", "TextField"):
        return fits(value, field="value", most=field.max_length or 8000)
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    if field.get_internal_type() == "DecimalField":
        return _decimal(field, value)
    if isinstance(value, float | bool):
        raise Refused(_("“%(value)s” is not a whole number.") % {"value": value}, field="value")
    try:
        return field.to_python(value)
    except ValidationError:
        raise Refused(
            _("“%(value)s” is not a whole number.") % {"value": value}, field="value"
        ) from None


def _decimal(field: Any, value: Any) -> Any:
    """A measured number, with the reader's comma or point."""
    try:
        return field.to_python(sanitize_separators(value))
    except ValidationError:
        raise Refused(
            _("“%(value)s” is not a number.") % {"value": value}, field="value"
        ) from None


def _check_amended(holder: Model, name: str) -> None:
    if isinstance(holder, Growing):
        check_growing(holder, [name])
        return
    fields_of(holder, names=[name])
    if name == "harvest_year":
        _check_year(holder)


def _check_year(lot: Any) -> None:
    # Held until the end: see descent.
    list(NumberSeries.objects.select_for_update().filter(name="lot"))
    check_harvest_order(
        lot.harvest_year,
        received=lot.received_on,
        parents=Lot.objects.filter(child_links__child=lot),
        children=Lot.objects.filter(parent_links__parent=lot),
    )


def _as_text(value: Any) -> str:
    return "" if value is None else str(value)


@transaction.atomic
def withhold(*, lot: Lot, reason: str, by) -> None:
    """Keep a lot from being lent until it is released."""
    kept_here(lot)
    reason = said(reason)
    if not Lot.objects.filter(pk=lot.pk, withheld_reason="").update(withheld_reason=reason):
        raise Conflict(_("Lot %(lot)s is withheld already.") % {"lot": lot.number})
    _note(lot, "", reason, reason, by)
    lot.withheld_reason = reason


@transaction.atomic
def release(*, lot: Lot, by, reason: str = "") -> None:
    """Let a withheld lot be lent again."""
    kept_here(lot)
    reason = fits(reason, field="reason") or _("released")
    row = Lot.objects.select_for_update(no_key=True).get(pk=lot.pk)
    if not row.withheld_reason:
        raise Conflict(_("Lot %(lot)s is not withheld.") % {"lot": lot.number})
    Lot.objects.filter(pk=lot.pk).update(withheld_reason="")
    _note(lot, row.withheld_reason, "", reason, by)
    lot.withheld_reason = ""


def _note(lot: Lot, old: str, new: str, reason: str, by) -> None:
    """Keep who withheld or released a lot, and why, among its amendments."""
    LotAmendment.objects.create(
        lot=lot, field="withheld", old_value=old, new_value=new, reason=reason, amended_by=by
    )
