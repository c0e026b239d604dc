"""Look-overs, inspections, and the condition of a machine out and in."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("maintenance", "0004_due_from_everything_known"),
        ("plant", "0004_machine_looked_over"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="stay",
            name="clean_in",
            field=models.CharField(
                blank=True,
                choices=[
                    ("", "Not told"),
                    ("clean", "Clean"),
                    ("dirty", "Dirty: it has to be cleaned"),
                ],
                default="",
                max_length=5,
            ),
        ),
        migrations.AddField(
            model_name="stay",
            name="clean_out",
            field=models.CharField(
                blank=True,
                choices=[
                    ("", "Not told"),
                    ("clean", "Clean"),
                    ("dirty", "Dirty: it has to be cleaned"),
                ],
                default="",
                max_length=5,
            ),
        ),
        migrations.AddField(
            model_name="stay",
            name="fuel_in",
            field=models.CharField(
                blank=True,
                choices=[
                    ("", "Not told"),
                    ("empty", "Empty"),
                    ("1/4", "A quarter"),
                    ("1/2", "Half"),
                    ("3/4", "Three quarters"),
                    ("full", "Full"),
                ],
                default="",
                max_length=5,
            ),
        ),
        migrations.AddField(
            model_name="stay",
            name="fuel_out",
            field=models.CharField(
                blank=True,
                choices=[
                    ("", "Not told"),
                    ("empty", "Empty"),
                    ("1/4", "A quarter"),
                    ("1/2", "Half"),
                    ("3/4", "Three quarters"),
                    ("full", "Full"),
                ],
                default="",
                max_length=5,
            ),
        ),
        migrations.AddField(
            model_name="stay",
            name="missing_in",
            field=models.CharField(blank=True, max_length=400, verbose_name="did not come back"),
        ),
        migrations.CreateModel(
            name="Inspection",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[("look-over", "Look-over"), ("inspection", "Inspection")],
                        max_length=10,
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "mark",
                    models.CharField(
                        choices=[
                            ("passed", "Passed"),
                            ("not passed", "Could not be passed"),
                            ("decide", "A foreman decides"),
                            ("stop", "Stopped the machine"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="inspections",
                        to="plant.machine",
                    ),
                ),
                (
                    "record",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="inspection_row",
                        to="plant.record",
                    ),
                ),
                (
                    "sheet",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="inspections",
                        to="maintenance.rulesheet",
                    ),
                ),
            ],
            options={
                "ordering": ("-at", "-pk"),
                "indexes": [models.Index(fields=["machine", "-at"], name="inspection_by_machine")],
            },
        ),
        migrations.CreateModel(
            name="InspectionDraft",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[("look-over", "Look-over"), ("inspection", "Inspection")],
                        max_length=10,
                    ),
                ),
                ("typed", models.JSONField(default=dict)),
                ("kept_at", models.DateTimeField()),
                ("isolated_at", models.DateTimeField(blank=True, null=True)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="inspection_drafts",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "machine",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="inspection_drafts",
                        to="plant.machine",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("machine", "by", "kind"), name="one_draft_a_person_and_list"
                    )
                ],
            },
        ),
    ]
