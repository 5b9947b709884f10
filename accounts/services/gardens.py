"""Gardens: where a member grows, kept as coarse as the member wants."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from accounts.frosts import FROST_FIELDS
from accounts.models import Garden, Member
from accounts.services.checks import clean, frosts_agree
from library import hooks
from library.errors import NotAllowed, Refused

GRID = Decimal("0.1")
EXACT = Decimal("0.00001")
MOST_GARDENS = 20
FIELDS = frozenset(
    {
        "name",
        "placed",
        "latitude",
        "longitude",
        *FROST_FIELDS,
        "area_m2",
        "is_default",
    }
)


@transaction.atomic
def add_garden(*, member: Member, by: Member, **fields) -> Garden:
    """A new garden of one's own. The first one is the default."""
    _only_own(member.pk, by)
    gardens = _locked(member)
    if len(gardens) >= MOST_GARDENS:
        raise Refused(
            _("You have %(most)d gardens, which is as many as are kept for one member.")
            % {"most": MOST_GARDENS}
        )
    garden = Garden(member=member)
    return _write(garden, fields, default=fields.get("is_default", False) or not gardens)


@transaction.atomic
def edit_garden(*, garden: Garden, by: Member, **fields) -> Garden:
    """Change what is given; moving it to the grid drops the exact coordinate for good."""
    _only_own(garden.member_id, by)
    gardens = _locked(garden.member)
    row = next((g for g in gardens if g.pk == garden.pk), None)
    if row is None:
        raise Refused(_("This garden was removed."))
    return _write(row, fields, default=fields.get("is_default", row.is_default))


@transaction.atomic
def remove_garden(*, garden: Garden, by: Member) -> None:
    """Loans and lots grown there stay, without the garden. Another becomes the default.

    An upper app that holds to the garden refuses with a Conflict.
    """
    _only_own(garden.member_id, by)
    member = garden.member
    _locked(member)
    hooks.tell("garden_goes", garden=garden)
    Garden.objects.filter(pk=garden.pk).delete()
    gardens = Garden.objects.filter(member=member)
    if gardens and not gardens.filter(is_default=True).exists():
        Garden.objects.filter(pk=gardens[0].pk).update(is_default=True)


def _only_own(owner_id: int, by: Member) -> None:
    if owner_id != by.pk:
        raise NotAllowed(_("Only the member whose garden it is can change it."))


def _locked(member: Member) -> list[Garden]:
    """The member's gardens; the member's row is locked, so that one writer at a time counts."""
    Member.objects.select_for_update().get(pk=member.pk)
    return list(Garden.objects.filter(member=member))


def _write(garden: Garden, fields: dict, *, default: bool) -> Garden:
    was_at = _exact_place(garden)
    _set(garden, fields)
    _place(garden)
    if was_at and was_at != _exact_place(garden):
        garden.moved_at = timezone.now()
    clean(garden, but=("member",))
    frosts_agree(garden)
    _name_once(garden)
    others = Garden.objects.filter(member_id=garden.member_id).exclude(pk=garden.pk)
    if default:
        others.update(is_default=False)
    garden.is_default = default or not others.filter(is_default=True).exists()
    garden.save()
    return garden


def _set(garden: Garden, fields: dict) -> None:
    if not fields.keys() <= FIELDS:
        wrong = sorted(fields.keys() - FIELDS)[0]
        raise Refused(_("“%(field)s” is not kept of a garden.") % {"field": wrong}, field=wrong)
    for field, value in fields.items():
        setattr(garden, field, value.strip() if isinstance(value, str) else value)


def _exact_place(garden: Garden) -> tuple[Decimal, Decimal] | None:
    """Where it is to the metre; None where nobody said, or not so closely."""
    if garden.placed != Garden.Placed.EXACT or garden.latitude is None:
        return None
    return garden.latitude, garden.longitude or Decimal(0)


def _place(garden: Garden) -> None:
    """Round the coordinate to what is kept; both numbers or none."""
    if (garden.latitude is None) != (garden.longitude is None):
        missing = "latitude" if garden.latitude is None else "longitude"
        raise Refused(
            _("A place needs latitude and longitude. Give both, or leave both empty."),
            field=missing,
        )
    step = EXACT if garden.placed == Garden.Placed.EXACT else GRID
    garden.latitude = _rounded(garden.latitude, step, "latitude", 90)
    garden.longitude = _rounded(garden.longitude, step, "longitude", 180)


def _rounded(value, step: Decimal, field: str, most: int) -> Decimal | None:
    if value is None:
        return None
    value = Decimal(str(value))
    if not value.is_finite() or abs(value) > most:
        raise Refused(
            _("The %(field)s must be between -%(most)d and %(most)d degrees.")
            % {"field": field, "most": most},
            field=field,
        )
    # Adding zero turns -0.0 into 0.0.
    return value.quantize(step, rounding=ROUND_HALF_EVEN) + Decimal(0)


def _name_once(garden: Garden) -> None:
    same = Garden.objects.filter(member_id=garden.member_id, name=garden.name)
    if same.exclude(pk=garden.pk).exists():
        raise Refused(
            _("You already have a garden named “%(name)s”.") % {"name": garden.name},
            field="name",
        )
