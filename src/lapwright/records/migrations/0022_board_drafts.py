"""Schedules worked out beside the pages, and which process does it. They can always be made anew."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("records", "0021_quotations")]

    operations = [
        migrations.CreateModel(
            name="BoardDraft",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", models.CharField(blank=True, max_length=64, unique=True)),
                ("question", models.JSONField(null=True)),
                ("asked_at", models.DateTimeField()),
                ("wanted", models.DateTimeField(null=True)),
                ("tries", models.PositiveIntegerField(default=0)),
                ("begun_at", models.DateTimeField(null=True)),
                ("made_at", models.DateTimeField(null=True)),
                ("took_s", models.FloatField(null=True)),
                ("moment", models.DateTimeField(null=True)),
                ("written", models.BigIntegerField(default=0)),
                ("data", models.BinaryField(null=True)),
                ("refusal", models.JSONField(null=True)),
            ],
        ),
        migrations.CreateModel(
            name="BoardPlanner",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("holder", models.CharField(blank=True, max_length=200)),
                ("beat_at", models.DateTimeField(null=True)),
            ],
        ),
    ]
