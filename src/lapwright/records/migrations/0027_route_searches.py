"""Routes searched beside the pages, and what was found."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("records", "0026_sent_forms")]

    operations = [
        migrations.CreateModel(
            name="RouteSearch",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", models.CharField(max_length=64, unique=True)),
                ("question", models.JSONField()),
                ("is_typed", models.BooleanField(default=False)),
                ("asked_at", models.DateTimeField(db_index=True)),
                ("tries", models.PositiveIntegerField(default=0)),
                ("begun_at", models.DateTimeField(null=True)),
                ("made_at", models.DateTimeField(db_index=True, null=True)),
                ("data", models.BinaryField(null=True)),
                ("refusal", models.JSONField(null=True)),
            ],
        ),
    ]
