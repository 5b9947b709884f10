"""The shape of a season's pictures over the API. Who sees what is said by what is read."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from library.growouts.models import Cause, Commitment, Milestone
from library.growouts.pictures.calendar.facts import StepState
from library.growouts.pictures.gardens.cells import LEAST
from library.growouts.pictures.gardens.facts import Kind
from library.growouts.pictures.gardens.reading import GardenPlan, GardenRow
from library.lending.serializers import VarietyRef

CHANCE = "From 0 to 1."
STATE = serializers.ChoiceField(choices=Commitment.State.choices)


class SeasonStepSerializer(serializers.Serializer):
    kind = serializers.ChoiceField(choices=Milestone.Kind.choices)
    due_on = serializers.DateField()
    done_on = serializers.DateField(allow_null=True)
    state = serializers.ChoiceField(choices=[state.value for state in StepState])


class CalendarRowSerializer(serializers.Serializer):
    commitment = serializers.IntegerField(source="key")
    grower = serializers.CharField(help_text="Their display name.")
    variety = serializers.CharField()
    state = serializers.CharField(help_text="In words.")
    steps = SeasonStepSerializer(many=True)


class OthersPromiseSerializer(serializers.Serializer):
    grower = serializers.CharField(help_text="Their display name.")
    variety = serializers.CharField()
    state = serializers.CharField(help_text="In words.")


class SeasonCalendarSerializer(serializers.Serializer):
    """``rows`` are one's own, and everybody's for a coordinator; ``others`` what other members
    promised, without any day: days follow a garden's frost dates.
    """

    year = serializers.IntegerField(source="season.year")
    on = serializers.DateField(source="today")
    everyone = serializers.BooleanField(help_text="Whether everybody's rows are told.")
    rows = CalendarRowSerializer(many=True)
    others = OthersPromiseSerializer(many=True)
    more_others = serializers.IntegerField(help_text="How many others were left out.")


class SeasonStandSerializer(serializers.Serializer):
    kind = serializers.ChoiceField(choices=[kind.value for kind in Kind])
    species = serializers.CharField(source="species_name")
    variety = serializers.CharField(source="name")
    commitment = serializers.IntegerField(source="pk", allow_null=True)
    flowers = serializers.IntegerField(help_text="The year in which it flowers.")
    radius_m = serializers.FloatField(help_text="Metres to keep free of its species; 0: none.")
    guarded = serializers.BooleanField(help_text="A technique makes distance needless.")


class PlaceInMetresSerializer(serializers.Serializer):
    """Metres from the middle of the gardens that are shown."""

    east_m = serializers.FloatField()
    north_m = serializers.FloatField()


class SeasonGardenSerializer(serializers.Serializer):
    """A garden to a coordinator: where it is to the metre, where its member told."""

    garden = serializers.IntegerField(source="key")
    name = serializers.CharField()
    grower = serializers.CharField()
    latitude = serializers.FloatField(source="spot.latitude", default=None, allow_null=True)
    longitude = serializers.FloatField(source="spot.longitude", default=None, allow_null=True)
    place = serializers.SerializerMethodField()
    stands = SeasonStandSerializer(many=True)

    @extend_schema_field(PlaceInMetresSerializer(allow_null=True))
    def get_place(self, row: GardenRow) -> dict[str, float] | None:
        found = self.context["plan"].places.get(row.key)
        if found is None:
            return None
        return {"east_m": round(found[0], 1), "north_m": round(found[1], 1)}


class SeasonConflictSerializer(serializers.Serializer):
    species = serializers.CharField(source="one.species_name")
    variety = serializers.CharField(source="one.name")
    garden = serializers.IntegerField(source="one.garden")
    other_variety = serializers.CharField(source="other.name")
    other_garden = serializers.IntegerField(source="other.garden")
    distance_m = serializers.FloatField()
    required_m = serializers.FloatField()
    short_m = serializers.FloatField()
    unsure = serializers.BooleanField(help_text="They may keep apart by flowering in turn.")


class SeasonCellSerializer(serializers.Serializer):
    """A cell of a tenth of a degree, by its middle."""

    latitude = serializers.DecimalField(max_digits=4, decimal_places=1)
    longitude = serializers.DecimalField(max_digits=4, decimal_places=1)
    growers = serializers.IntegerField()


class OwnPlaceSerializer(serializers.Serializer):
    name = serializers.CharField()
    latitude = serializers.DecimalField(max_digits=8, decimal_places=5, allow_null=True)
    longitude = serializers.DecimalField(max_digits=8, decimal_places=5, allow_null=True)
    grows = serializers.ListField(child=serializers.CharField())


class SeasonMapSerializer(serializers.Serializer):
    """``exact`` for coordinators: gardens, what stands there and what may cross. Other members
    are told of their own gardens, and of others only counts by cell.
    """

    year = serializers.IntegerField(source="season.year")
    exact = serializers.SerializerMethodField()
    gardens = serializers.SerializerMethodField()
    conflicts = SeasonConflictSerializer(many=True, default=list)
    growers = serializers.IntegerField(
        allow_null=True, default=None, help_text="Other members who grow for the season."
    )
    cells = SeasonCellSerializer(
        many=True,
        default=list,
        help_text=f"Only cells in which at least {LEAST} other members grow.",
    )
    elsewhere = serializers.IntegerField(
        allow_null=True, default=None, help_text="Those who grow in no cell that is told."
    )
    own = OwnPlaceSerializer(many=True, default=list)

    def get_exact(self, plan: object) -> bool:
        return isinstance(plan, GardenPlan)

    @extend_schema_field(SeasonGardenSerializer(many=True))
    def get_gardens(self, plan: object) -> list:
        if not isinstance(plan, GardenPlan):
            return []
        rows = [*plan.rows, *plan.unplaced]
        return list(SeasonGardenSerializer(rows, many=True, context={"plan": plan}).data)


class CauseCountSerializer(serializers.Serializer):
    cause = serializers.ChoiceField(choices=Cause.choices)
    n = serializers.IntegerField()


class NewLotSerializer(serializers.Serializer):
    number = serializers.CharField()
    seeds = serializers.IntegerField()


class GrownForSeasonSerializer(serializers.Serializer):
    grower = serializers.CharField()
    state = STATE
    cause = serializers.CharField(allow_blank=True, help_text="In words.")
    sown = serializers.IntegerField(allow_null=True)
    stood = serializers.IntegerField(allow_null=True)
    gave_seed = serializers.IntegerField(allow_null=True)
    lot = NewLotSerializer(allow_null=True)


class RenewedVarietySerializer(serializers.Serializer):
    variety = VarietyRef()
    is_renewed = serializers.BooleanField()
    grown = GrownForSeasonSerializer(many=True)
    lots = NewLotSerializer(many=True)
    planned = serializers.FloatField(
        allow_null=True, help_text="The chance of loss that the plan was made with. " + CHANCE
    )
    without = serializers.FloatField(
        allow_null=True, help_text="The chance of loss today without this season. " + CHANCE
    )
    now = serializers.FloatField(
        allow_null=True, help_text="The chance of loss today. " + CHANCE
    )


class SeasonStorySerializer(serializers.Serializer):
    """How a season went. Members read of failures in numbers only."""

    year = serializers.IntegerField(source="season.year")
    on = serializers.DateField(source="today")
    summary = serializers.CharField()
    wanted = serializers.IntegerField()
    promised = serializers.IntegerField(help_text="Whatever became of them.")
    returned = serializers.IntegerField()
    failed = serializers.IntegerField()
    growing = serializers.IntegerField()
    declined = serializers.IntegerField(help_text="Declined, or not answered in time.")
    causes = CauseCountSerializer(many=True)
    planned_on = serializers.DateField(allow_null=True)
    varieties = RenewedVarietySerializer(many=True)
