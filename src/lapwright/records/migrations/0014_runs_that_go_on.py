"""An index by which the few runs that go on are found among all that have ended."""

from django.db import migrations, models


class Migration(migrations.Migration):
    """See above."""

    dependencies = [("records", "0013_by_time")]
    operations = [migrations.AddIndex("run", models.Index(fields=["ended_at"], name="runs_that_go_on"))]
