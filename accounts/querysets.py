"""The questions asked about people and gardens, in the design's words."""

from __future__ import annotations

from django.contrib.auth.models import BaseUserManager
from django.db import models

from accounts.roles import COORDINATE, SERVE_DESK, roles_with


class MemberQuerySet(models.QuerySet):
    def active(self):
        """People whose membership is approved and who have not left."""
        return self.filter(is_active=True, membership="approved")

    def waiting(self):
        """People who applied and were not answered yet."""
        return self.filter(is_active=True, membership="applied")

    def coordinators(self):
        return self.active().filter(role__in=roles_with(COORDINATE))

    def at_the_desk(self):
        return self.active().filter(role__in=roles_with(SERVE_DESK))


class MemberManager(BaseUserManager.from_queryset(MemberQuerySet)):
    """Makes members; an email is kept in lower case so that it is one person's only once."""

    use_in_migrations = False

    def create_user(self, email: str, password: str | None = None, **fields):
        member = self.model(email=email.strip().lower(), **fields)
        member.set_password(password)
        member.save(using=self._db)
        return member

    def create_superuser(self, email: str, password: str | None = None, **fields):
        fields.setdefault("display_name", email.split("@")[0])
        fields.update(role="administrator", membership="approved", is_superuser=True)
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
