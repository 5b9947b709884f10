"""The shape of what the API takes and gives. What may be is for the services to say."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy as _
from drf_spectacular.utils import extend_schema_field, extend_schema_serializer
from rest_framework import serializers

from accounts.models import Garden
from accounts.roles import COORDINATE
from library.catalogue.models import BreedingStatus, Crop, Variety
from library.catalogue.serializers import KnownBy
from library.lending.models import Deposit, Loan, Return
from library.lending.sentences import sentence
from library.lending.services.growing import FACTS
from library.stock.models import Isolation, StoragePlace


class VisibleField(serializers.PrimaryKeyRelatedField):
    """A row that the asker may see; any other is as good as none."""

    default_error_messages = {
        "does_not_exist": _("There is none with the number {pk_value} that you may use."),
    }

    def get_queryset(self):
        rows: Any = super().get_queryset()
        return rows.visible_to(self.context["request"].user)


class VarietyRef(serializers.ModelSerializer):
    crop = serializers.CharField(source="crop.name", read_only=True)

    class Meta:
        model = Variety
        fields = ["id", "name", "crop"]
        read_only_fields = fields


class LoanSerializer(serializers.ModelSerializer):
    """A loan. ``garden`` is given to the borrower and to coordinators only."""

    packet = serializers.CharField(source="packet.code", read_only=True)
    seeds = serializers.IntegerField(source="packet.seeds", read_only=True)
    lot = serializers.CharField(source="packet.lot.number", read_only=True)
    variety = VarietyRef(source="packet.lot.variety", read_only=True)
    borrower = serializers.CharField(source="borrower.display_name", read_only=True)
    garden = serializers.SerializerMethodField()
    state = serializers.SerializerMethodField()
    due_reason = serializers.CharField(read_only=True)

    class Meta:
        model = Loan
        fields = [
            "id",
            "state",
            "packet",
            "seeds",
            "lot",
            "variety",
            "borrower",
            "garden",
            "lent_on",
            "handed_over_on",
            "due_on",
            "due_reason",
            "due_rule",
            "due_inputs",
            "closed_on",
            "outcome",
            "outcome_note",
            "override_reason",
        ]
        read_only_fields = fields

    @extend_schema_field(serializers.IntegerField(allow_null=True))
    def get_garden(self, loan: Loan) -> int | None:
        asker = self.context["request"].user
        mine = loan.borrower_id == asker.pk
        return loan.garden_id if mine or asker.has_perm(COORDINATE) else None

    @extend_schema_field(serializers.ChoiceField(choices=["to_collect", "out", "closed"]))
    def get_state(self, loan: Loan) -> str:
        if not loan.is_open:
            return "closed"
        return "out" if loan.is_collected else "to_collect"


class LendInput(serializers.Serializer):
    packet = serializers.CharField(max_length=40, help_text="The packet's code.")
    borrower = serializers.CharField(
        max_length=60, required=False, help_text="A display name; without it, yourself."
    )
    garden = VisibleField(
        queryset=Garden.objects.all(),
        required=False,
        allow_null=True,
        help_text="A garden of the borrower; without it, their default one.",
    )
    on = serializers.DateField(required=False, help_text="The desk: another day than today.")
    override_reason = serializers.CharField(
        max_length=250, required=False, allow_blank=True, help_text="Coordinators only."
    )


class OnInput(serializers.Serializer):
    on = serializers.DateField(required=False, help_text="The desk: another day than today.")


class DatedNoteInput(OnInput):
    note = serializers.CharField(max_length=2000, required=False, allow_blank=True)


class TableLendInput(OnInput):
    """Lent at a swap table, perhaps while there was no reception."""

    packet = serializers.CharField(max_length=40, help_text="The packet's code.")
    borrower = serializers.CharField(max_length=60, help_text="A display name.")
    done_by = serializers.IntegerField(
        required=False,
        help_text="The number of the volunteer who did it; refused when another is signed in.",
    )


class TableTakeBackInput(OnInput):
    packet = serializers.CharField(max_length=40, help_text="The packet's code.")
    loan = serializers.IntegerField(
        required=False, help_text="Only from this loan: to undo it and no later one."
    )
    done_by = serializers.IntegerField(
        required=False,
        help_text="The number of the volunteer who did it; refused when another is signed in.",
    )


@extend_schema_serializer(many=False)
class TableSerializer(serializers.Serializer):
    """What a phone at the table needs to know before reception is lost."""

    me = serializers.IntegerField(help_text="The number of who is signed in.")
    name = serializers.CharField()
    now = serializers.CharField(help_text="The library's wall clock, with its offset.")
    lent = serializers.IntegerField(help_text="Packets you lent or handed over today.")
    taken_back = serializers.IntegerField(help_text="Packets you took back today.")
    people = serializers.ListField(child=serializers.CharField(), help_text="Display names.")


class CloseInput(DatedNoteInput):
    outcome = serializers.ChoiceField(choices=["crop_failed", "nothing_to_return"])


class ExtendInput(serializers.Serializer):
    due_on = serializers.DateField()
    reason = serializers.CharField(max_length=250)


class GardenInput(serializers.Serializer):
    garden = VisibleField(queryset=Garden.objects.all())


class GrowingField(serializers.Serializer):
    """How it was grown; leave out what is not known."""

    plants_sown = serializers.IntegerField(required=False, allow_null=True)
    plants_stood = serializers.IntegerField(required=False, allow_null=True)
    plants_gave_seed = serializers.IntegerField(required=False, allow_null=True)
    pollen_plants = serializers.IntegerField(required=False, allow_null=True)
    isolation = serializers.ChoiceField(choices=Isolation.choices, required=False)
    isolation_distance_m = serializers.IntegerField(required=False, allow_null=True)
    crossing_neighbour = serializers.CharField(max_length=120, required=False, allow_blank=True)
    selection = serializers.CharField(max_length=2000, required=False, allow_blank=True)
    roguing = serializers.CharField(max_length=2000, required=False, allow_blank=True)
    notes = serializers.CharField(max_length=4000, required=False, allow_blank=True)


class NewCardField(serializers.Serializer):
    """A card for what the catalogue does not know yet; the desk writes it."""

    crop = KnownBy(slug_field="slug", queryset=Crop.objects.select_related("species"))
    name = serializers.CharField(max_length=120)
    breeding_status = serializers.ChoiceField(
        choices=BreedingStatus.choices, default=BreedingStatus.OPEN_POLLINATED
    )
    generation = serializers.IntegerField(required=False, allow_null=True, default=None)


class QuantityInput(serializers.Serializer):
    seeds = serializers.IntegerField(required=False, allow_null=True)
    grams = serializers.DecimalField(
        max_digits=12, decimal_places=3, required=False, allow_null=True
    )


class ReceiveInput(QuantityInput):
    """What the desk counted or weighed."""

    on = serializers.DateField(required=False)
    thousand_seed_weight_g = serializers.DecimalField(
        max_digits=9, decimal_places=4, required=False, allow_null=True
    )
    variety = serializers.PrimaryKeyRelatedField(
        queryset=Variety.objects.select_related("crop__species"),
        required=False,
        allow_null=True,
    )
    new_card = NewCardField(required=False)
    storage_place = serializers.PrimaryKeyRelatedField(
        queryset=StoragePlace.objects.all(), required=False, allow_null=True
    )


class ReceiveDepositInput(ReceiveInput):
    harvest_year = serializers.IntegerField(required=False, allow_null=True)
    packets = serializers.IntegerField(required=False, allow_null=True)
    seeds_each = serializers.IntegerField(required=False, allow_null=True)


class DepositInput(QuantityInput):
    variety = serializers.PrimaryKeyRelatedField(
        queryset=Variety.objects.select_related("crop__species"),
        required=False,
        allow_null=True,
    )
    crop = KnownBy(
        slug_field="slug",
        queryset=Crop.objects.select_related("species"),
        required=False,
        allow_null=True,
    )
    new_variety_name = serializers.CharField(max_length=120, required=False, allow_blank=True)
    harvest_year = serializers.IntegerField(required=False, allow_null=True)
    origin_region = serializers.CharField(max_length=120, required=False, allow_blank=True)
    origin_story = serializers.CharField(max_length=8000, required=False, allow_blank=True)
    growing = GrowingField(required=False)
    may_be_named = serializers.BooleanField(required=False)
    depositor = serializers.CharField(
        max_length=60, required=False, help_text="The desk: a member's display name."
    )
    source_name = serializers.CharField(
        max_length=120,
        required=False,
        allow_blank=True,
        help_text="The desk: who gave it, if not a member and if they agreed to be named.",
    )
    receive = ReceiveDepositInput(
        required=False, help_text="The desk: receive it at once, with what was counted."
    )


class DeclineInput(serializers.Serializer):
    reason = serializers.CharField(max_length=2000)


class DepositSerializer(serializers.ModelSerializer):
    depositor = serializers.CharField(
        source="depositor.display_name", read_only=True, allow_null=True, default=None
    )
    variety = VarietyRef(read_only=True, allow_null=True)
    crop = serializers.CharField(source="crop.slug", read_only=True, allow_null=True)
    lot = serializers.CharField(source="lot.number", read_only=True, allow_null=True)

    class Meta:
        model = Deposit
        fields = [
            "id",
            "state",
            "depositor",
            "source_name",
            "may_be_named",
            "variety",
            "crop",
            "new_variety_name",
            "seeds",
            "grams",
            "harvest_year",
            "origin_region",
            "origin_story",
            "growing",
            "proposed_at",
            "decided_at",
            "decision_note",
            "lot",
        ]
        read_only_fields = fields


class AnnounceInput(QuantityInput):
    loans = VisibleField(queryset=Loan.objects.all(), many=True, allow_empty=False)
    harvest_year = serializers.IntegerField()
    garden = VisibleField(queryset=Garden.objects.all(), required=False, allow_null=True)
    growing = GrowingField(required=False)
    more_to_come = serializers.BooleanField(required=False)
    receive = ReceiveInput(
        required=False, help_text="The desk: receive it at once, with what was counted."
    )


class ReturnSerializer(serializers.ModelSerializer):
    """A return. ``garden`` is given to the member and to coordinators only."""

    member = serializers.CharField(source="member.display_name", read_only=True)
    garden = serializers.SerializerMethodField()
    loans = serializers.SerializerMethodField()
    growing = serializers.SerializerMethodField()
    lot = serializers.CharField(source="lot.number", read_only=True, allow_null=True)
    variety = serializers.SerializerMethodField()

    class Meta:
        model = Return
        fields = [
            "id",
            "state",
            "member",
            "variety",
            "loans",
            "seeds",
            "grams",
            "harvest_year",
            "garden",
            "growing",
            "announced_at",
            "received_at",
            "lot",
        ]
        read_only_fields = fields

    @extend_schema_field(serializers.IntegerField(allow_null=True))
    def get_garden(self, seed_return: Return) -> int | None:
        asker = self.context["request"].user
        mine = seed_return.member_id == asker.pk
        return seed_return.garden_id if mine or asker.has_perm(COORDINATE) else None

    @extend_schema_field(serializers.ListField(child=serializers.IntegerField()))
    def get_loans(self, seed_return: Return) -> list[int]:
        return [link.loan_id for link in seed_return.loan_links.all()]

    @extend_schema_field(GrowingField)
    def get_growing(self, seed_return: Return) -> dict:
        return {name: getattr(seed_return, name) for name in FACTS}

    @extend_schema_field(VarietyRef)
    def get_variety(self, seed_return: Return) -> dict:
        return VarietyRef(seed_return.loan_links.all()[0].loan.packet.lot.variety).data


class ReceivedSerializer(serializers.Serializer):
    """The lot that was made, with the deposit or return it answers."""

    lot = serializers.CharField(source="number")
    variety = VarietyRef()
    seeds = serializers.IntegerField(source="balance")
    packets = serializers.SerializerMethodField()
    awaits_first_test = serializers.BooleanField()

    @extend_schema_field(serializers.ListField(child=serializers.CharField()))
    def get_packets(self, lot) -> list[str]:
        return [packet.code for packet in lot.packets.all()]


class GuidanceCautionSerializer(serializers.Serializer):
    text = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]
    how = serializers.CharField()


class ExplainedDay(serializers.Serializer):
    day = serializers.DateField()
    reason = serializers.CharField()
    inputs = serializers.DictField()
    source = serializers.CharField()  # type: ignore[assignment]


class SowingWishes(serializers.Serializer):
    """What may be asked of sowing advice."""

    plants = serializers.IntegerField(required=False)
    losses_percent = serializers.DecimalField(
        max_digits=20, decimal_places=None, required=False
    )


class SowingAdviceSerializer(serializers.Serializer):
    """How much to sow for a stand at 95 % confidence, and what that was made from."""

    seeds = serializers.IntegerField()
    counted_as = serializers.CharField(source="unit")
    plants = serializers.IntegerField()
    losses_percent = serializers.DecimalField(max_digits=4, decimal_places=1)
    germination_at_least_percent = serializers.IntegerField(source="germination_percent")
    germination_most_likely_percent = serializers.IntegerField(source="median_percent")
    confidence = serializers.FloatField()
    from_tests = serializers.BooleanField()
    is_guess = serializers.BooleanField()
    reason = serializers.CharField(source="sentence")
    known_from = serializers.CharField(source="sprouting.told")
    known_for = serializers.DateField(source="sprouting.on", allow_null=True)
    source = serializers.CharField()  # type: ignore[assignment]
    in_few_words = serializers.ListField(child=serializers.CharField(), source="lines")


class GuidanceSerializer(serializers.Serializer):
    """What a borrower is told before a loan is confirmed; figures with their sources."""

    plants = serializers.IntegerField(source="population.plants")
    plants_source = serializers.CharField(source="population.source")
    if_fewer_plants = serializers.CharField(source="few_plants")
    seeds_to_sow = serializers.IntegerField(source="advice.seeds")
    sowing_advice = SowingAdviceSerializer(source="advice")
    isolation_at_least_m = serializers.IntegerField(source="isolation.metres", allow_null=True)
    isolation_source = serializers.CharField(source="isolation.source")
    protection = serializers.CharField(source="isolation.protection")
    sow_from = serializers.DateField(source="sowing.opens", allow_null=True, default=None)
    sow_until = serializers.DateField(source="sowing.closes", allow_null=True, default=None)
    sowing_reason = serializers.CharField()
    seed_ripe = serializers.SerializerMethodField()
    due = serializers.SerializerMethodField()
    frost_dates_from = serializers.ChoiceField(choices=["garden", "community", "unknown"])
    warnings = serializers.ListField(child=serializers.CharField())
    cautions = GuidanceCautionSerializer(many=True)
    why_not = serializers.SerializerMethodField(
        help_text="Why it cannot be lent to you now; empty when it can."
    )

    def get_why_not(self, guidance) -> str:
        return self.context["why_not"]

    @extend_schema_field(ExplainedDay(allow_null=True))
    def get_seed_ripe(self, guidance) -> dict | None:
        ripe = guidance.ripe
        return None if ripe is None else _explained(ripe.ripe_on, ripe)

    @extend_schema_field(ExplainedDay)
    def get_due(self, guidance) -> dict:
        return _explained(guidance.due.due_on, guidance.due)


def _explained(day, rule) -> dict:
    return {
        "day": day.isoformat(),
        "reason": sentence(rule.reason, rule.inputs),
        "inputs": dict(rule.inputs),
        "source": rule.source,
    }
