"""Feeds, requests to the recorder, streams of readings."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0002_frozen_rows"),
    ]

    operations = [
        migrations.CreateModel(
            name="Feed",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("version", models.PositiveIntegerField(default=1)),
                ("definition", models.JSONField()),
                (
                    "station",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="feed", to="records.station"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="LiveRequest",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("kind", models.CharField(max_length=10)),
                ("asked", models.JSONField()),
                (
                    "station",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="requests", to="records.station"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="LiveAnswer",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("accepted", models.BooleanField()),
                ("code", models.CharField(blank=True, max_length=60)),
                ("sentence", models.TextField(blank=True)),
                (
                    "run",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="records.run"
                    ),
                ),
                (
                    "request",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="answer", to="records.liverequest"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="Stream",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("feed", models.JSONField(null=True)),
                ("target_m", models.FloatField(null=True)),
                ("time_s", models.FloatField(null=True)),
                ("zero_m", models.FloatField()),
                ("rate_m_per_s", models.FloatField(null=True)),
                (
                    "run",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="stream", to="records.run"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="StreamEnd",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("outcome", models.CharField(max_length=12)),
                ("after_s", models.FloatField(null=True)),
                ("code", models.CharField(blank=True, max_length=60)),
                ("sentence", models.TextField(blank=True)),
                ("removed_m", models.FloatField(null=True)),
                ("uncertainty_m", models.FloatField(null=True)),
                ("margin_m", models.FloatField(null=True)),
                ("shown_m", models.FloatField(null=True)),
                (
                    "stream",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="end", to="records.stream"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="StreamEvent",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("kind", models.CharField(max_length=12)),
                ("time_s", models.FloatField()),
                ("code", models.CharField(blank=True, max_length=60)),
                ("sentence", models.TextField(blank=True)),
                (
                    "stream",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="events", to="records.stream"
                    ),
                ),
            ],
            options={
                "ordering": ["stream_id", "pk"],
            },
        ),
        migrations.CreateModel(
            name="StreamTail",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveIntegerField()),
                ("count", models.PositiveIntegerField()),
                ("data", models.BinaryField()),
                (
                    "stream",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="tails", to="records.stream"
                    ),
                ),
            ],
            options={
                "ordering": ["stream_id", "number", "pk"],
            },
        ),
        migrations.CreateModel(
            name="StreamBlock",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveIntegerField()),
                ("count", models.PositiveIntegerField()),
                ("data", models.BinaryField()),
                (
                    "stream",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="blocks", to="records.stream"
                    ),
                ),
            ],
            options={
                "ordering": ["stream_id", "number"],
                "constraints": [models.UniqueConstraint(fields=("stream", "number"), name="one_block_per_number")],
            },
        ),
    ]
