"""Raw readings of a stream may go once it is recorded that they did; triggers hold that, as in 0004."""

from typing import Any

import django.db.models.deletion
from django.db import migrations, models

SAYING = "a record is never changed or deleted"
KEPT = "NOT EXISTS (SELECT 1 FROM records_streamdrop WHERE stream_id = OLD.stream_id)"


def change_triggers(apps: Any, schema_editor: Any) -> None:  # noqa: ARG001  the shape that migrations ask for
    if schema_editor.connection.vendor == "postgresql":
        for statement in (
            "CREATE TRIGGER frozen_streamdrop BEFORE UPDATE OR DELETE ON records_streamdrop "
            "FOR EACH ROW EXECUTE FUNCTION records_refuse()",
            "DROP TRIGGER frozen_streamblock ON records_streamblock",
            "CREATE TRIGGER frozen_streamblock BEFORE UPDATE ON records_streamblock "
            "FOR EACH ROW EXECUTE FUNCTION records_refuse()",
            "CREATE FUNCTION records_refuse_kept() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN IF {KEPT} THEN "
            f"RAISE EXCEPTION '{SAYING}' USING ERRCODE = 'integrity_constraint_violation'; "
            "END IF; RETURN OLD; END $$",
            "CREATE TRIGGER kept_streamblock BEFORE DELETE ON records_streamblock "
            "FOR EACH ROW EXECUTE FUNCTION records_refuse_kept()",
        ):
            schema_editor.execute(statement)
        return
    for event in ("UPDATE", "DELETE"):
        schema_editor.execute(
            f"CREATE TRIGGER frozen_streamdrop_{event.lower()} BEFORE {event} ON records_streamdrop "
            f"BEGIN SELECT RAISE(ABORT, '{SAYING}'); END"
        )
    schema_editor.execute("DROP TRIGGER frozen_streamblock_delete")
    schema_editor.execute(
        f"CREATE TRIGGER kept_streamblock_delete BEFORE DELETE ON records_streamblock WHEN {KEPT} "
        f"BEGIN SELECT RAISE(ABORT, '{SAYING}'); END"
    )


class Migration(migrations.Migration):
    dependencies = [("records", "0016_odd_decisions")]

    operations = [
        migrations.CreateModel(
            name="StreamDrop",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("by", models.CharField(max_length=150)),
                ("reason", models.TextField(blank=True)),
                ("at", models.DateTimeField()),
                ("blocks", models.PositiveIntegerField()),
                ("readings", models.PositiveIntegerField()),
                ("sha256", models.CharField(max_length=64)),
                ("picture", models.JSONField()),
                (
                    "stream",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="drop", to="records.stream"
                    ),
                ),
            ],
            options={"abstract": False},
        ),
        migrations.RunPython(change_triggers),
    ]
