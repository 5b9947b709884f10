"""Members, their gardens, and the community they belong to."""

from __future__ import annotations

import uuid

from django.contrib.auth.models import AbstractBaseUser, PermissionsMixin
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower, Round
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from knox.models import AbstractAuthToken

from accounts import names
from accounts.current import held_community, hold_community
from accounts.frosts import FrostDates
from accounts.querysets import GardenQuerySet, InvitationQuerySet, MemberManager
from accounts.roles import Role
from accounts.validators import language, time_zone


class Membership(models.TextChoices):
    APPLIED = "applied", _("Applied")
    APPROVED = "approved", _("Approved")
    DECLINED = "declined", _("Declined")
    LEFT = "left", _("Left")


class Member(AbstractBaseUser, PermissionsMixin):  # type: ignore[django-manager-missing]
    """A person. Others see ``display_name`` and nothing else of them."""

    email = models.EmailField(_("email"), unique=True)
    display_name = models.CharField(
        _("name shown to others"),
        max_length=60,
        validators=[names.display_name],
        help_text=_("Any name you like. Members see this and never your email or address."),
    )
    # The name without case, width and invisible characters: one person's only once. Up to
    # eighteen characters can come of one by NFKC, hence the length.
    display_name_key = models.CharField(max_length=1200, editable=False)
    role = models.CharField(_("role"), max_length=20, choices=Role, default=Role.MEMBER)
    membership = models.CharField(
        _("membership"), max_length=20, choices=Membership, default=Membership.APPLIED
    )
    introduction = models.TextField(_("a word to the coordinator"), blank=True, max_length=2000)
    time_zone = models.CharField(
        _("time zone"), max_length=60, blank=True, validators=[time_zone]
    )
    language = models.CharField(_("language"), max_length=10, blank=True, validators=[language])
    wants_reminders = models.BooleanField(_("remind me by mail"), default=True)
    wants_news = models.BooleanField(
        _("tell me by mail what is new on the shelf"), default=False
    )
    is_active = models.BooleanField(default=True)
    applied_at = models.DateTimeField(default=timezone.now)
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_by = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    decision_note = models.TextField(blank=True, max_length=2000)

    objects = MemberManager()

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS = []

    class Meta:
        verbose_name = _("member")
        verbose_name_plural = _("members")
        permissions = [
            ("borrow", "Borrow and return seed"),
            ("serve_desk", "Lend, take back and receive at the desk"),
            ("coordinate", "Approve members, run the bench, set the rules of bench and loans"),
            ("administer", "Change roles and the library's settings"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(email=Lower("email")), name="member_email_in_lower_case"
            ),
            models.UniqueConstraint(
                fields=["display_name_key"], name="member_display_name_once"
            ),
            models.CheckConstraint(
                condition=Q(role__in=Role.values), name="member_role_is_known"
            ),
            models.CheckConstraint(
                condition=Q(membership__in=Membership.values), name="membership_is_known"
            ),
            models.CheckConstraint(
                condition=~Q(membership="left") | Q(is_active=False),
                name="member_who_left_is_not_active",
            ),
        ]
        indexes = [
            # The list of members, and who is waiting.
            models.Index(fields=["membership", "display_name"], name="member_list"),
        ]

    def __str__(self) -> str:
        return self.display_name

    def save(self, *args, update_fields=None, **kwargs) -> None:
        """Keeps the name's key with the name, whoever saves it."""
        self.display_name_key = names.name_key(self.display_name)
        if update_fields is not None and "display_name" in update_fields:
            update_fields = {*update_fields, "display_name_key"}
        super().save(*args, update_fields=update_fields, **kwargs)

    @property
    def is_approved(self) -> bool:
        return self.is_active and self.membership == Membership.APPROVED

    @property
    def is_staff(self) -> bool:
        """Who may open Django's admin: administrators."""
        return self.is_approved and self.role == Role.ADMINISTRATOR


class MembershipEvent(models.Model):
    """One line of a membership's history: who decided what, when, and why. Only added."""

    class Kind(models.TextChoices):
        APPLIED = "applied", _("Applied")
        INVITED = "invited", _("Came by invitation")
        ADDED = "added", _("Added")
        APPROVED = "approved", _("Approved")
        DECLINED = "declined", _("Declined")
        ROLE = "role", _("Role changed")
        LEFT = "left", _("Left")

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="events")
    kind = models.CharField(max_length=20, choices=Kind)
    role = models.CharField(max_length=20, choices=Role, blank=True)
    role_before = models.CharField(max_length=20, choices=Role, blank=True)
    by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    note = models.TextField(blank=True, max_length=2000)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    kind__in=[
                        "applied",
                        "invited",
                        "added",
                        "approved",
                        "declined",
                        "role",
                        "left",
                    ]
                ),
                name="membership_event_is_known",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.member_id}"


class Invitation(models.Model):
    """A coordinator's invitation; who uses it is a member without waiting."""

    email = models.EmailField(_("email"))
    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    role = models.CharField(max_length=20, choices=Role, default=Role.MEMBER)
    invited_by = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="invitations")
    invited_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.OneToOneField(
        Member, null=True, blank=True, on_delete=models.SET_NULL, related_name="invited_with"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    objects = InvitationQuerySet.as_manager()

    class Meta:
        ordering = ["-invited_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["email"],
                condition=Q(accepted_at=None, withdrawn_at=None),
                name="invitation_one_open_for_each_email",
            ),
            models.CheckConstraint(
                condition=Q(email=Lower("email")), name="invitation_email_in_lower_case"
            ),
            models.CheckConstraint(
                condition=Q(accepted_at=None) | Q(withdrawn_at=None),
                name="invitation_accepted_or_withdrawn",
            ),
        ]

    def __str__(self) -> str:
        return f"invitation {self.pk}"


class Garden(FrostDates):
    """Where a member grows. Its place is shown to that member and to coordinators only."""

    class Placed(models.TextChoices):
        EXACT = "exact", _("By coordinate")
        GRID = "grid", _("On a coarse grid of about 10 km")

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="gardens")
    name = models.CharField(_("name"), max_length=80)
    placed = models.CharField(_("placed"), max_length=10, choices=Placed, default=Placed.GRID)
    latitude = models.DecimalField(
        _("latitude"),
        max_digits=8,
        decimal_places=5,
        null=True,
        blank=True,
        validators=[MinValueValidator(-90), MaxValueValidator(90)],
    )
    longitude = models.DecimalField(
        _("longitude"),
        max_digits=8,
        decimal_places=5,
        null=True,
        blank=True,
        validators=[MinValueValidator(-180), MaxValueValidator(180)],
    )
    area_m2 = models.DecimalField(
        _("growing area in square metres"),
        max_digits=8,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    is_default = models.BooleanField(_("use this garden unless I say another"), default=False)
    # When an exact place was last changed or dropped: it says nothing of what grew before.
    moved_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = GardenQuerySet.as_manager()

    class Meta(FrostDates.Meta):
        ordering = ["name"]
        constraints = [
            *FrostDates.Meta.constraints,
            models.UniqueConstraint(fields=["member", "name"], name="garden_name_once"),
            models.UniqueConstraint(
                fields=["member"], condition=Q(is_default=True), name="garden_one_default"
            ),
            models.CheckConstraint(
                condition=Q(latitude=None, longitude=None)
                | Q(
                    latitude__isnull=False,
                    longitude__isnull=False,
                    latitude__range=(-90, 90),
                    longitude__range=(-180, 180),
                ),
                name="garden_coordinate_whole_and_on_earth",
            ),
            models.CheckConstraint(
                condition=Q(area_m2=None) | Q(area_m2__gte=0), name="garden_area_not_negative"
            ),
            models.CheckConstraint(
                # Of a garden on the grid the exact place is not merely hidden: it is not kept.
                condition=Q(placed="exact")
                | Q(latitude=None)
                | Q(latitude=Round(F("latitude"), 1), longitude=Round(F("longitude"), 1)),
                name="garden_on_the_grid_is_coarse",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ApiToken(AbstractAuthToken):
    """A member's key for scripts; only its digest is kept."""

    name = models.CharField(_("what it is for"), max_length=80)
    last_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created"]

    def __str__(self) -> str:
        return self.name


class IdempotencyKey(models.Model):
    """A key that a client sent with a request, and the answer it got; a retry gets it again."""

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="+")
    key = models.CharField(max_length=80)
    fingerprint = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(null=True)
    body = models.JSONField(null=True)
    location = models.CharField(max_length=500, blank=True)
    created_at = models.DateTimeField(default=timezone.now, db_index=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["member", "key"], name="idempotency_key_once"),
        ]

    def __str__(self) -> str:
        return self.key


class Community(FrostDates):
    """The library's own name, place in time, and manner of letting people in. One row."""

    identifier = models.UUIDField(default=uuid.uuid4, editable=False)  # in files, for ever
    name = models.CharField(_("name"), max_length=80, default="Seed library")
    place = models.CharField(_("place"), max_length=120, blank=True)
    welcome = models.TextField(_("welcome"), blank=True, max_length=4000)
    time_zone = models.CharField(
        _("time zone"), max_length=60, default="UTC", validators=[time_zone]
    )
    language = models.CharField(
        _("language"), max_length=10, default="en", validators=[language]
    )
    open_to_applications = models.BooleanField(_("anyone may apply"), default=True)
    catalogue_is_public = models.BooleanField(
        _("anyone may browse without signing in"), default=True
    )

    class Meta(FrostDates.Meta):
        constraints = [
            *FrostDates.Meta.constraints,
            models.CheckConstraint(condition=Q(pk=1), name="community_is_one_row"),
            models.CheckConstraint(
                condition=Q(last_spring_frost="", first_autumn_frost="")
                | (~Q(last_spring_frost="") & ~Q(first_autumn_frost="")),
                name="community_both_frosts_or_none",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def current(cls) -> Community:
        """The one row; read once for each request (see ``accounts.current``)."""
        community = held_community()
        if community is None:
            community = cls.objects.filter(pk=1).first() or cls.objects.get_or_create(pk=1)[0]
            hold_community(community)
        return community
