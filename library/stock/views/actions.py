"""What the desk does to a lot: each page calls the one service."""

from __future__ import annotations

from typing import Any

from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from accounts.access import DeskPage
from library.catalogue.models import Variety
from library.stock import forms, services
from library.stock.models import Growing, Lot, Movement
from library.stock.service_pages import ServicePage, number_asked
from library.stock.services.amendments import AMENDABLE


class LotAction(DeskPage, ServicePage):
    """A page about one lot; done, it leads back to the lot."""

    @cached_property
    def lot(self) -> Lot:
        lots = Lot.objects.visible_to(self.request.user).with_variety()
        return get_object_or_404(lots, number=self.kwargs["number"])

    def back_to(self) -> str:
        return self.lot.get_absolute_url()

    def crumbs(self) -> list[tuple[str, str]]:
        variety = self.lot.variety
        return [
            (variety.get_absolute_url(), variety.name),
            (self.lot.get_absolute_url(), self.lot.number),
        ]

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(lot=self.lot, **kwargs)

    def counted(self, asked: dict[str, Any], name: str) -> int:
        """A count as given, or as the weight says."""
        if asked[name] is not None:
            return asked[name]
        return services.seeds_from_weight(
            grams=asked["grams"],
            variety=self.lot.variety,
            thousand_seed_weight_g=self.lot.thousand_seed_weight_g,
        ).seeds


class PackPage(LotAction):
    template_name = "stock/pack.html"
    form_class = forms.PackForm
    heading = gettext_lazy("Fill packets")
    submit = gettext_lazy("Fill packets")
    done = gettext_lazy("Packed. Print the labels before the packets are mixed up.")

    def get_initial(self) -> dict[str, Any]:
        each = number_asked(self.request.GET.get("seeds_each", ""))
        return super().get_initial() | ({"seeds_each": each} if each else {})

    def act(self, asked: dict[str, Any]):
        return services.pack(lot=self.lot, by=self.request.user, **asked)

    def where_next(self, result) -> str:
        codes = ",".join(packet.code for packet in result)
        return reverse("lot-labels", args=[self.lot.number]) + f"?codes={codes}"


class DiscardPage(LotAction):
    form_class = forms.RemoveForm
    heading = gettext_lazy("Discard seed from the jar")
    submit = gettext_lazy("Discard")
    danger = True

    def act(self, asked: dict[str, Any]):
        return services.discard(
            lot=self.lot,
            seeds=self.counted(asked, "seeds"),
            reason=asked["reason"],
            on=asked["on"],
            by=self.request.user,
        )


class DiscardRestPage(LotAction):
    form_class = forms.ReasonOnDayForm
    heading = gettext_lazy("Discard all that is left")
    lead = gettext_lazy("The jar and every packet on the shelf. Lent packets stay lent.")
    submit = gettext_lazy("Discard all")
    danger = True

    def act(self, asked: dict[str, Any]):
        return services.discard_rest(lot=self.lot, by=self.request.user, **asked)


class GivePage(LotAction):
    form_class = forms.RemoveForm
    heading = gettext_lazy("Give seed away from the jar")
    lead = gettext_lazy("For good: no loan, and nothing is due.")
    submit = gettext_lazy("Give away")

    def act(self, asked: dict[str, Any]):
        return services.give_away(
            lot=self.lot,
            seeds=self.counted(asked, "seeds"),
            reason=asked["reason"],
            on=asked["on"],
            by=self.request.user,
        )


class CountPage(LotAction):
    form_class = forms.CountForm
    heading = gettext_lazy("Correct the count of the jar")

    @property
    def lead(self) -> str:
        return _("The ledger says %(loose)s.") % {"loose": self.lot.loose}

    def act(self, asked: dict[str, Any]):
        return services.correct_count(
            lot=self.lot,
            loose=self.counted(asked, "loose"),
            reason=asked["reason"],
            on=asked["on"],
            by=self.request.user,
        )


class MovePage(LotAction):
    form_class = forms.MoveForm
    heading = gettext_lazy("Move the lot")

    def get_initial(self) -> dict[str, Any]:
        return super().get_initial() | {"storage_place": self.lot.storage_place_id or ""}

    def act(self, asked: dict[str, Any]):
        return services.move_lot(lot=self.lot, by=self.request.user, **asked)


class CustodianPage(LotAction):
    form_class = forms.CustodianForm
    heading = gettext_lazy("Change who keeps the lot")

    def get_initial(self) -> dict[str, Any]:
        return super().get_initial() | {"custodian": self.lot.custodian_id}

    def act(self, asked: dict[str, Any]):
        return services.hand_to_custodian(lot=self.lot, by=self.request.user, **asked)


class WithholdPage(LotAction):
    form_class = forms.ReasonForm
    heading = gettext_lazy("Withhold the lot")
    lead = gettext_lazy("No packet of it is lent until it is released.")
    submit = gettext_lazy("Withhold")

    def act(self, asked: dict[str, Any]):
        return services.withhold(lot=self.lot, by=self.request.user, **asked)


class ReleasePage(LotAction):
    form_class = forms.ReasonForm
    heading = gettext_lazy("Release the lot")
    submit = gettext_lazy("Release")

    def act(self, asked: dict[str, Any]):
        return services.release(lot=self.lot, by=self.request.user, **asked)


class AmendPage(LotAction):
    """First which fact, each shown as it is recorded; then what is right, and why."""

    form_class = forms.AmendForm
    template_name = "stock/amend.html"
    heading = gettext_lazy("Amend what was recorded")
    lead = gettext_lazy("The old value stays readable, with your reason.")

    @property
    def field(self) -> str | None:
        field = self.request.GET.get("field")
        return field if field in AMENDABLE else None

    def recorded(self, field: str) -> Any:
        holder: Any = self.lot
        if field.startswith("growing."):
            holder = getattr(self.lot, "growing", None) or Growing()
        return getattr(holder, field.removeprefix("growing."))

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"model_field": _model_field(self.field)}

    def get_initial(self) -> dict[str, Any]:
        value = self.recorded(self.field) if self.field else None
        return {"value": "" if value is None else value}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        facts = [(f, _model_field(f).verbose_name, self.recorded(f)) for f in AMENDABLE]
        old = self.recorded(self.field) if self.field else None
        return super().get_context_data(facts=facts, field=self.field, old=old, **kwargs)

    def act(self, asked: dict[str, Any]):
        return services.amend_lot(
            lot=self.lot, field=self.field or "", by=self.request.user, **asked
        )


def _model_field(field: str | None) -> Any:
    model = Growing if field and field.startswith("growing.") else Lot
    return model._meta.get_field((field or "harvest_year").removeprefix("growing."))


class BulkPage(DeskPage, ServicePage):
    """Several lots of one variety into one."""

    form_class = forms.BulkForm
    heading = gettext_lazy("Bulk several lots into one")
    lead = gettext_lazy(
        "Mixed seed cannot be parted again, and a cross in one lot is then in all of it."
    )
    submit = gettext_lazy("Bulk")

    @cached_property
    def variety(self) -> Variety:
        return get_object_or_404(Variety.objects.with_crop(), pk=self.kwargs["pk"])

    def get_form_kwargs(self) -> dict[str, Any]:
        lots = Lot.objects.of_variety(self.variety).filter(loose__gt=0).order_by("pk")
        return super().get_form_kwargs() | {"lots": list(lots)}

    def act(self, asked: dict[str, Any]):
        return services.bulk_lots(
            lots=asked["lots"],
            on=asked["on"],
            storage_place=asked["storage_place"],
            by=self.request.user,
        )

    def where_next(self, result: Lot) -> str:
        return result.get_absolute_url()

    def back_to(self) -> str:
        return self.variety.get_absolute_url()

    def crumbs(self) -> list[tuple[str, str]]:
        return [(self.variety.get_absolute_url(), self.variety.name)]


class MendPage(DeskPage, ServicePage):
    """Undo a line of the ledger by its contrary."""

    form_class = forms.ReasonOnDayForm
    template_name = "stock/mend.html"
    heading = gettext_lazy("Mend a movement")
    lead = gettext_lazy("The line stays; its contrary is written beside it, with your reason.")
    submit = gettext_lazy("Write the contrary")

    @cached_property
    def movement(self) -> Movement:
        lines = Movement.objects.select_related("lot", "packet", "recorded_by")
        return get_object_or_404(lines, pk=self.kwargs["pk"])

    def act(self, asked: dict[str, Any]):
        return services.mend_movement(movement=self.movement, by=self.request.user, **asked)

    def back_to(self) -> str:
        return self.movement.lot.get_absolute_url()

    def crumbs(self) -> list[tuple[str, str]]:
        return [(self.movement.lot.get_absolute_url(), self.movement.lot.number)]

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(movement=self.movement, **kwargs)
