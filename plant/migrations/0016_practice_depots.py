"""Depots that one person practises in, and when each was done with."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("plant", "0015_files_of_printed_sheets"),
    ]

    operations = [
        migrations.AddField(
            model_name="depot",
            name="practice_ended_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="depot",
            name="practice_of",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="practice_depots",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddConstraint(
            model_name="depot",
            constraint=models.UniqueConstraint(
                condition=models.Q(("practice_ended_at", None)),
                fields=("practice_of",),
                name="one_practice_depot_a_person",
            ),
        ),
    ]
