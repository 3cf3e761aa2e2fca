"""The Board: its settings, and the schedules that were accepted. Those are never changed."""

from django.db import migrations, models

from lapwright.records.frozen_tables import frozen



class Migration(migrations.Migration):
    dependencies = [("records", "0018_looks_and_handovers")]

    operations = [
        migrations.CreateModel(
            name="BoardSetting",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("version", models.PositiveIntegerField(default=1)),
                ("key", models.CharField(max_length=80, unique=True)),
                ("definition", models.JSONField()),
            ],
            options={"abstract": False},
        ),
        migrations.CreateModel(
            name="BoardPlan",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("plan", models.JSONField()),
            ],
            options={"ordering": ["at", "pk"]},
        ),
        frozen("boardplan"),
    ]
