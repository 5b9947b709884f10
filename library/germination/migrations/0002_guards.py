"""The database refuses to change what was counted in a test that is over."""

from django.db import migrations

from library.germination.guards import GUARDS
from library.stock import guards


def put_up(apps, schema_editor):
    guards.install(schema_editor.connection, GUARDS)


def take_down(apps, schema_editor):
    guards.lift(schema_editor.connection, GUARDS)


class Migration(migrations.Migration):
    dependencies = [("germination", "0001_initial")]

    operations = [migrations.RunPython(put_up, take_down)]
