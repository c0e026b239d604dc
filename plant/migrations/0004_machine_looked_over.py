"""A competent person's look-over is told apart from a check."""

from django.db import migrations, models


def passed_is_looked_over(apps, schema_editor):
    """What was passed before look-overs were told apart stays passed."""
    machine = apps.get_model("plant", "Machine")
    machine.objects.filter(passed_at__isnull=False).update(looked_at=models.F("passed_at"))


class Migration(migrations.Migration):
    dependencies = [
        ("plant", "0003_more_record_kinds"),
    ]

    operations = [
        migrations.AddField(
            model_name="machine",
            name="check_wanted_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="machine",
            name="looked_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.RunPython(passed_is_looked_over, migrations.RunPython.noop),
    ]
