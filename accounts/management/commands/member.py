"""Make a member from the machine itself: how the first administrator comes into being."""

from __future__ import annotations

import getpass
import sys

from allauth.account.forms import default_token_generator
from allauth.account.utils import user_pk_to_url_str
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from accounts import services
from accounts.mail import address_of
from accounts.models import Member
from accounts.roles import Role
from library.errors import Refused


class Command(BaseCommand):
    help = (
        "Make an approved member with a confirmed email. The password is asked for on the "
        "terminal; with --link, or without a terminal, a one-time link to set it is printed."
    )

    def add_arguments(self, parser) -> None:
        parser.add_argument("email")
        parser.add_argument("--name", help="the name shown to others (default: from the email)")
        parser.add_argument("--role", choices=Role.values, default=Role.MEMBER)
        parser.add_argument("--link", action="store_true", help="print a link, ask nothing")

    def handle(self, *, email: str, name: str | None, role: str, link: bool, **options) -> None:
        ask = not link and sys.stdin.isatty()
        try:
            member = services.make_member(
                email=email,
                display_name=name or email.partition("@")[0],
                role=role,
                password=self.ask_password() if ask else None,
            )
        except Refused as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"{member.display_name} <{member.email}> is now: {member.role}.")
        if not ask:
            self.stdout.write("Set the password here (the link works once):")
            self.stdout.write(password_link(member))

    def ask_password(self) -> str:
        password = getpass.getpass("Password: ")
        if password != getpass.getpass("Password again: "):
            raise CommandError("The two passwords are not the same. Nothing was made.")
        try:
            validate_password(password)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        return password


def password_link(member: Member) -> str:
    key = f"{user_pk_to_url_str(member)}-{default_token_generator.make_token(member)}"
    uidb36, _dash, token = key.partition("-")
    return address_of("account_reset_password_from_key", uidb36=uidb36, key=token)
