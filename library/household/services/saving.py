"""The list of what a member wants to save seed of, in one garden and season."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Garden, Member
from library.catalogue.models import Variety
from library.errors import Conflict, Refused
from library.growouts.services.checks import a_year, locked_member, number, own_garden
from library.growouts.services.rooms import square_metres
from library.household.models import KeptApart, SavedVariety, SavingPlan
from library.household.models.saving import USUAL_CHANCE_PERCENT, USUAL_YEARS
from library.science.rotation import MOST_VARIETIES, MOST_YEARS
from library.stock.models import Lot
from library.stock.services.checks import fits

MOST_PLANS = 100  # of one member
MOST_CHOICES = MOST_VARIETIES  # of one list
MOST_APART_M = 100_000
EMPTY = (None, "")


@transaction.atomic
def make_plan(
    *,
    garden: Garden,
    year: int,
    by: Member,
    room_m2: Any = None,
    plots: Any = None,
    plot_m2: Any = None,
    apart_m: int | None = None,
    years_ahead: int = USUAL_YEARS,
    chance_percent: int = USUAL_CHANCE_PERCENT,
) -> SavingPlan:
    """A list for a garden and a season; room in square metres, or in plots of one size.

    Raises Conflict where there is one already.
    """
    own_garden(garden, by)
    locked_member(by)
    if not Garden.objects.filter(pk=garden.pk).exists():
        raise Conflict(_("This garden was removed."), field="garden")
    if SavingPlan.objects.of(by).count() >= MOST_PLANS:
        raise Refused(
            _("At most %(most)s lists are kept of one member. Remove an old one.")
            % {"most": MOST_PLANS}
        )
    plan = SavingPlan(garden=garden, year=a_year(year))
    if SavingPlan.objects.filter(garden=garden, year=plan.year).exists():
        raise Conflict(
            _("There is a list for “%(garden)s” in %(year)s already.")
            % {"garden": garden.name, "year": plan.year},
            field="year",
        )
    plan.room_m2 = square_metres(room_m2=room_m2, plots=plots, plot_m2=plot_m2)
    _set(plan, apart_m=apart_m, years_ahead=years_ahead, chance_percent=chance_percent)
    plan.save()
    return plan


@transaction.atomic
def change_plan(*, plan: SavingPlan, by: Member, **facts: Any) -> SavingPlan:
    """Change what is given; the garden and the year of a list stay."""
    plan = _locked(plan, by)
    room = {name: facts.pop(name) for name in ("room_m2", "plots", "plot_m2") if name in facts}
    if any(value not in EMPTY for value in room.values()):
        plan.room_m2 = square_metres(**room)
    elif "room_m2" in room:
        square_metres()  # says what is wanted
    known = {
        "apart_m": plan.apart_m,
        "years_ahead": plan.years_ahead,
        "chance_percent": plan.chance_percent,
    }
    _only_known(facts, known)
    _set(plan, **known | facts)
    plan.save()
    return plan


@transaction.atomic
def remove_plan(*, plan: SavingPlan, by: Member) -> None:
    """The list and all that is on it."""
    _locked(plan, by).delete()


@transaction.atomic
def add_varieties(
    *, plan: SavingPlan, varieties: Iterable[Variety], by: Member
) -> list[SavedVariety]:
    """Put varieties on the list, each once; one that is there stays as it is.

    A variety of which the member keeps seed at home is sown from the newest such lot.
    """
    plan = _locked(plan, by)
    there = set(plan.choices.values_list("variety", flat=True))
    new = {variety.pk: variety for variety in varieties if variety.pk not in there}
    if len(there) + len(new) > MOST_CHOICES:
        raise Refused(
            _("At most %(most)s varieties stand on one list.") % {"most": MOST_CHOICES},
            field="varieties",
        )
    at_home = Lot.objects.kept_here().with_seed().filter(custodian=by, variety__in=new)
    lots = {lot.variety_id: lot for lot in at_home.order_by("received_on", "pk")}
    return SavedVariety.objects.bulk_create(
        SavedVariety(plan=plan, variety=variety, lot=lots.get(pk))
        for pk, variety in new.items()
    )


@transaction.atomic
def change_choice(*, choice: SavedVariety, by: Member, **facts: Any) -> SavedVariety:
    """Change what is given: lot, plants, technique, years that seed keeps, note."""
    _locked(choice.plan, by)
    row = SavedVariety.objects.select_related("variety").filter(pk=choice.pk).first()
    if row is None:
        raise Conflict(_("This variety was taken off the list."))
    names = ("lot", "plants", "technique", "keeps_years", "note")
    known = {name: getattr(row, name) for name in names}
    _only_known(facts, known)
    told = known | facts
    row.lot = _own_lot(told["lot"], row.variety, by)
    row.plants = _whole(told["plants"], "plants", 1, 1_000_000)
    row.keeps_years = _whole(told["keeps_years"], "keeps_years", 1, 50)
    if told["technique"] not in KeptApart.values:
        raise Refused(
            _("Choose one of: %(ways)s.") % {"ways": ", ".join(KeptApart.values)},
            field="technique",
        )
    row.technique = told["technique"]
    row.note = fits(told["note"], field="note", most=500)
    row.save()
    return row


@transaction.atomic
def drop_choice(*, choice: SavedVariety, by: Member) -> None:
    """Take it off the list; taking it off twice is no mistake."""
    _locked(choice.plan, by)
    SavedVariety.objects.filter(pk=choice.pk).delete()


def _locked(plan: SavingPlan, by: Member) -> SavingPlan:
    """The list as it is now; its member is locked, so that one writer at a time counts."""
    own_garden(plan.garden, by)
    locked_member(by)
    found = SavingPlan.objects.select_related("garden__member").filter(pk=plan.pk).first()
    if found is None:
        raise Conflict(_("This list was removed."))
    return found


def _set(plan: SavingPlan, *, apart_m: Any, years_ahead: Any, chance_percent: Any) -> None:
    plan.apart_m = _whole(apart_m, "apart_m", 0, MOST_APART_M)
    plan.years_ahead = number(years_ahead, field="years_ahead", least=1, most=MOST_YEARS)
    plan.chance_percent = number(chance_percent, field="chance_percent", least=50, most=95)


def _whole(value: Any, field: str, least: int, most: int) -> int | None:
    return None if value in EMPTY else number(value, field=field, least=least, most=most)


def _own_lot(lot: Lot | None, variety: Variety, by: Member) -> Lot | None:
    """Only from what lies at the member's own home; the desk lends what the library keeps."""
    if lot is None:
        return None
    if lot.custodian_id != by.pk or lot.variety_id != variety.pk:
        raise Refused(
            _("Choose a lot of %(variety)s that you keep at home.") % {"variety": variety.name},
            field="lot",
        )
    return lot


def _only_known(facts: dict[str, Any], known: dict[str, Any]) -> None:
    for name in facts:
        if name not in known:
            raise Refused(_("“%(field)s” is not kept here.") % {"field": name}, field=name)
