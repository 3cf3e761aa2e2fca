"""Indexes by which the latest of many rows are found without reading them all."""

from django.db import migrations, models


class Migration(migrations.Migration):
    """See above."""

    dependencies = [("records", "0012_plates")]
    operations = [
        migrations.AddIndex("readingset", models.Index(fields=["gauge", "at"], name="sets_of_a_gauge_by_time")),
        migrations.AddIndex("finding", models.Index(fields=["at"], name="findings_by_time")),
        migrations.AddIndex("verdict", models.Index(fields=["at"], name="verdicts_by_time")),
        migrations.AddIndex("verdict", models.Index(fields=["wafer", "quantity"], name="verdicts_of_a_wafer")),
        migrations.AddIndex("bond", models.Index(fields=["at"], name="bonds_by_time")),
        migrations.AddIndex("run", models.Index(fields=["at"], name="runs_by_time")),
    ]
