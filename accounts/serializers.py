"""The shapes of the API; the services decide."""

from __future__ import annotations

from django.conf import settings
from rest_framework import serializers

from accounts.models import Garden, Member, Membership
from accounts.roles import PERMISSIONS_OF, Role
from accounts.validators import time_zone


class GardenSerializer(serializers.ModelSerializer):
    """A garden, as its owner and the coordinators see it. Nobody else does."""

    member = serializers.CharField(source="member.display_name", read_only=True)
    mine = serializers.SerializerMethodField()

    class Meta:
        model = Garden
        fields = [
            "id",
            "member",
            "mine",
            "name",
            "placed",
            "latitude",
            "longitude",
            "last_spring_frost",
            "first_autumn_frost",
            "never_freezes",
            "area_m2",
            "is_default",
        ]

    def get_mine(self, garden: Garden) -> bool:
        return garden.member_id == self.context["request"].user.pk


class MeSerializer(serializers.Serializer):
    """The person who asks: their own email is theirs to see."""

    id = serializers.IntegerField(read_only=True)
    email = serializers.EmailField(read_only=True)
    role = serializers.ChoiceField(choices=Role.choices, read_only=True)
    membership = serializers.ChoiceField(choices=Membership.choices, read_only=True)
    permissions = serializers.SerializerMethodField()
    display_name = serializers.CharField(max_length=60)
    time_zone = serializers.CharField(max_length=60, allow_blank=True, validators=[time_zone])
    language = serializers.ChoiceField(choices=settings.LANGUAGES, allow_blank=True)
    wants_reminders = serializers.BooleanField()
    wants_news = serializers.BooleanField()

    def get_permissions(self, member: Member) -> list[str]:
        return sorted(PERMISSIONS_OF[member.role]) if member.is_approved else []
