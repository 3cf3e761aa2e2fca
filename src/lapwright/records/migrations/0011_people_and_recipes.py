"""People's roles, tokens and signatures; recipes. Rows that are never changed are held by triggers, as in 0002."""

from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

FROZEN = ("grant", "signing", "recipeversion", "recipeapproval", "recipeuse")
SAYING = "a record is never changed or deleted"


def add_triggers(apps: Any, schema_editor: Any) -> None:  # noqa: ARG001  the shape that migrations ask for
    for name in FROZEN:
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(
                f"CREATE TRIGGER frozen_{name} BEFORE UPDATE OR DELETE ON records_{name} "
                "FOR EACH ROW EXECUTE FUNCTION records_refuse()"
            )
            continue
        for event in ("UPDATE", "DELETE"):
            schema_editor.execute(
                f"CREATE TRIGGER frozen_{name}_{event.lower()} BEFORE {event} ON records_{name} "
                f"BEGIN SELECT RAISE(ABORT, '{SAYING}'); END"
            )


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0010_chain"),
    ]

    operations = [
        migrations.CreateModel(
            name="LoginAttempt",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(db_index=True, max_length=150)),
                ("address", models.CharField(db_index=True, max_length=60)),
                ("at", models.DateTimeField(db_index=True)),
            ],
        ),
        migrations.CreateModel(
            name="Recipe",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("version", models.PositiveIntegerField(default=1)),
                ("recipe_id", models.CharField(max_length=60, unique=True)),
                ("locked", models.BooleanField(default=False)),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.AlterModelOptions(
            name="person",
            options={},
        ),
        migrations.CreateModel(
            name="ApiToken",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("version", models.PositiveIntegerField(default=1)),
                ("name", models.CharField(max_length=60)),
                ("sha256", models.CharField(max_length=64, unique=True)),
                ("scopes", models.JSONField()),
                ("expires_at", models.DateTimeField()),
                ("revoked_at", models.DateTimeField(null=True)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="tokens", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="Grant",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("role", models.CharField(max_length=20)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="grants", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.CreateModel(
            name="RecipeVersion",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("number", models.PositiveIntegerField()),
                ("settings", models.JSONField()),
                (
                    "recipe",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="versions", to="records.recipe"
                    ),
                ),
            ],
            options={
                "ordering": ["recipe_id", "number"],
            },
        ),
        migrations.CreateModel(
            name="RecipeUse",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                (
                    "run",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="recipe_use", to="records.run"
                    ),
                ),
                (
                    "recipe_version",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="uses", to="records.recipeversion"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="RecipeApproval",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                (
                    "recipe_version",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="approval", to="records.recipeversion"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="Signing",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("document_number", models.CharField(max_length=100)),
                ("meaning", models.CharField(max_length=40)),
                ("name", models.CharField(max_length=200)),
                ("method", models.CharField(max_length=20)),
                ("documents", models.JSONField()),
                (
                    "order",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="signings", to="records.order"
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
        migrations.AddConstraint(
            model_name="recipeversion",
            constraint=models.UniqueConstraint(fields=("recipe", "number"), name="one_version_per_number"),
        ),
        migrations.RunPython(add_triggers),
    ]
