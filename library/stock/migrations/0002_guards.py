"""The database refuses to change or delete what the ledger and the chain have recorded."""

from django.db import migrations

from library.stock import guards


def put_up(apps, schema_editor):
    guards.install(schema_editor.connection)


def take_down(apps, schema_editor):
    guards.lift(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [("stock", "0001_initial")]

    operations = [migrations.RunPython(put_up, take_down)]
