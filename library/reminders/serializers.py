"""What is due, over the API."""

from __future__ import annotations

from django.utils import timezone
from rest_framework import serializers

from library.reminders.models import Reminder


class DueQuery(serializers.Serializer):
    until = serializers.DateField(
        required=False, help_text="Due on or before this day; 30 days from now if not given."
    )
    kind = serializers.CharField(required=False, max_length=40, help_text="Only this kind.")


class DueOut(serializers.Serializer):
    kind = serializers.CharField()
    subject = serializers.CharField(help_text="What it is about, as `app.Model:key`.")
    due_on = serializers.DateField()
    remind_on = serializers.DateField(help_text="A reminder is mailed from this day on.")
    overdue = serializers.SerializerMethodField()
    title = serializers.CharField()
    detail = serializers.CharField()
    url = serializers.CharField(help_text="The page where it can be done, without the host.")
    role = serializers.CharField(
        allow_null=True, help_text="Null when it is yours alone; else who answers for it."
    )

    def get_overdue(self, item) -> bool:
        return item.due_on < timezone.localdate()


class ReminderOut(serializers.ModelSerializer):
    state = serializers.ChoiceField(
        choices=["planned", "waiting", "sent", "failed", "withdrawn"],
        help_text="What became of its mail.",
    )
    sent_at = serializers.DateTimeField(source="message.sent_at", allow_null=True, default=None)

    class Meta:
        model = Reminder
        fields = ["id", "kind", "title", "due_on", "url", "planned_at", "state", "sent_at"]
