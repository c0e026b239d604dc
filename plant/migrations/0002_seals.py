"""Lays the seals on the records, so that the database itself refuses to change them."""

from django.db import migrations

from plant import seals


class Migration(migrations.Migration):
    dependencies = [("plant", "0001_initial")]
    operations = [
        migrations.RunPython(
            lambda apps, editor: seals.lay(editor.connection),
            lambda apps, editor: seals.lift(editor.connection),
        )
    ]
