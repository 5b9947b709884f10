"""How far an empty library was set up, and who has read the welcome."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _


class SetupStep(models.Model):
    """One step of the first day that was taken, or passed over."""

    class Step(models.TextChoices):
        COMMUNITY = "community", _("Name, place and season")
        RULES = "rules", _("Rules and limits")
        PLACES = "places", _("Storage places")
        COORDINATOR = "coordinator", _("First coordinator")
        MAIL = "mail", _("Mail")

    class State(models.TextChoices):
        DONE = "done", _("done")
        SKIPPED = "skipped", _("passed over")

    step = models.CharField(max_length=20, choices=Step, unique=True)
    state = models.CharField(max_length=10, choices=State)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(
                    step__in=["community", "rules", "places", "coordinator", "mail"]
                ),
                name="setup_step_is_known",
            ),
            models.CheckConstraint(
                condition=models.Q(state__in=["done", "skipped"]),
                name="setup_step_done_or_skipped",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.step} {self.state}"


class WelcomeRead(models.Model):
    """A member who has put the welcome away, for good."""

    member = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="welcome_read"
    )
    at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"welcome {self.member_id}"
