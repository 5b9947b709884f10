"""The database refuses to change what was reported of a lot."""

from django.db import migrations

from library.provenance.guards import GUARDS
from library.stock import guards


def put_up(apps, schema_editor):
    guards.install(schema_editor.connection, GUARDS)


def take_down(apps, schema_editor):
    guards.lift(schema_editor.connection, GUARDS)


class Migration(migrations.Migration):
    dependencies = [("provenance", "0001_initial"), ("stock", "0002_guards")]

    operations = [migrations.RunPython(put_up, take_down)]
