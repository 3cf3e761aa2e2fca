"""Marks of forms that led to a deed, so that the same form sent twice is done once. No records."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("records", "0025_sets_by_closing")]

    operations = [
        migrations.CreateModel(
            name="SentForm",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("mark", models.CharField(max_length=64, unique=True)),
                ("at", models.DateTimeField(db_index=True)),
                ("place", models.CharField(blank=True, max_length=500)),
            ],
        ),
    ]
