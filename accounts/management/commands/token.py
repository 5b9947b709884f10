"""Make an API token for a member and print it."""

from __future__ import annotations

from django.core.management.base import BaseCommand, CommandError

from accounts import services
from accounts.models import Member
from library.errors import Refused


class Command(BaseCommand):
    help = "Make an API token for the member with this email and print it, the only time."

    def add_arguments(self, parser) -> None:
        parser.add_argument("email")
        parser.add_argument("--name", default="script", help="what it is for")

    def handle(self, *, email: str, name: str, **options) -> None:
        member = Member.objects.filter(email=email.strip().lower()).first()
        if member is None:
            raise CommandError(f"Nobody here has the email {email}.")
        try:
            _token, secret = services.make_token(member=member, name=name)
        except Refused as error:
            raise CommandError(str(error)) from error
        self.stdout.write(secret)
