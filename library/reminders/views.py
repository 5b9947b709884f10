"""The page of all that is due."""

from __future__ import annotations

from django.utils import timezone
from django.views.generic import TemplateView

from accounts.access import MemberPage
from library.reminders.panels import LOOKS_AHEAD
from library.reminders.services import items_for


class DuePage(MemberPage, TemplateView):
    template_name = "reminders/due.html"

    def get_context_data(self, **kwargs) -> dict:
        today = timezone.localdate()
        items = items_for(self.request.user, today + LOOKS_AHEAD)
        return super().get_context_data(items=items, today=today, **kwargs)
