"""The questions asked about people and gardens, in the design's words."""

from __future__ import annotations

import datetime as dt

from allauth.account.models import EmailAddress
from django.contrib.auth.models import BaseUserManager
from django.db import models
from django.db.models import Exists, OuterRef, Q

from accounts.names import name_key, tidy
from accounts.roles import ADMINISTER, COORDINATE, SERVE_DESK, roles_with


class MemberQuerySet(models.QuerySet):
    def active(self):
        """People whose membership is approved and who have not left."""
        return self.filter(is_active=True, membership="approved")

    def waiting(self):
        """People who applied and were not answered yet.

        An application counts once its email is confirmed: until then anyone may have typed it.
        """
        return self.with_confirmed_email().filter(is_active=True, membership="applied")

    def telling_confirmed(self):
        """Each with ``email_is_confirmed``."""
        confirmed = EmailAddress.objects.filter(user=OuterRef("pk"), verified=True)
        return self.annotate(email_is_confirmed=Exists(confirmed))

    def with_confirmed_email(self):
        return self.telling_confirmed().filter(email_is_confirmed=True)

    def administrators(self):
        return self.active().filter(role__in=roles_with(ADMINISTER))

    def named_like(self, text: str):
        """Whose display name or email holds ``text``; for coordinators, who may see both."""
        return self.filter(
            Q(display_name_key__contains=name_key(text))
            | Q(email__contains=text.strip().lower())
        )

    def coordinators(self):
        return self.active().filter(role__in=roles_with(COORDINATE))

    def at_the_desk(self):
        return self.active().filter(role__in=roles_with(SERVE_DESK))


class MemberManager(BaseUserManager.from_queryset(MemberQuerySet)):  # type: ignore[misc]
    """Makes members; an email is kept in lower case so that it is one person's only once."""

    use_in_migrations = False

    def create_user(self, email: str, password: str | None = None, **fields):
        fields["display_name"] = tidy(fields.get("display_name", ""))
        member = self.model(email=email.strip().lower(), **fields)
        member.set_password(password)
        member.save(using=self._db)
        return member

    def create_superuser(self, email: str, password: str | None = None, **fields):
        # Permissions come from the role alone, so that changing the role changes them all.
        fields.setdefault("display_name", email.split("@")[0])
        fields.pop("is_superuser", None)
        fields.update(role="administrator", membership="approved")
        return self.create_user(email, password, **fields)

    def get_by_natural_key(self, email: str):
        return self.get(email=email.strip().lower())


class GardenQuerySet(models.QuerySet):
    def visible_to(self, member):
        """A member's own gardens; every garden for a coordinator; none for anyone else."""
        if not member.is_authenticated:
            return self.none()
        if member.has_perm(COORDINATE):
            return self
        return self.filter(member=member)


class InvitationQuerySet(models.QuerySet):
    def open(self):
        """Neither used nor withdrawn; it may have expired."""
        return self.filter(accepted_at=None, withdrawn_at=None)

    def usable(self, now: dt.datetime):
        return self.open().filter(expires_at__gt=now)
