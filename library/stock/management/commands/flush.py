"""Django's ``flush``, on a database whose ledger refuses to lose rows."""

from __future__ import annotations

from django.core.management.commands import flush
from django.db import connections, transaction

from library.stock import guards


class Command(flush.Command):
    """Empties the database; the guards come down for it and go up again, all or nothing."""

    def handle(self, **options):
        connection = connections[options["database"]]
        if connection.vendor != "sqlite":  # PostgreSQL truncates, which passes the guards by
            return super().handle(**options)
        with transaction.atomic(using=connection.alias):
            guards.lift(connection, guards.known())
            result = super().handle(**options)
            guards.install(connection, guards.known())
        return result
