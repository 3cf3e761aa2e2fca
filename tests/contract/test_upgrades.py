"""A database that any earlier version left is brought up to date, and all that was in it is still there."""

from lapwright.app.verification import verify_records
from lapwright.testing.old_schemas import filled, lost, old_database, schemas


def test_rows_of_every_earlier_schema_come_through_all_later_ones(records, tmp_path):
    """Each schema in turn with a row in each of its tables, then opened by this version: every column as stored."""
    from lapwright.records import chain, upgrading
    from lapwright.records.chain_form import covered_models

    names = schemas()
    with old_database(f"sqlite:///{tmp_path / 'old.sqlite3'}"):
        stored = filled(names[:-1])
        assert len({row.table for row in stored}) > 40
        upgrading.bring_up_to_date(records)
        assert lost(stored) == []
        chain.look_up_first()
        report = verify_records()
        covered = {model._meta.db_table for model in covered_models().values()}
        assert report.rows >= sum(row.table in covered for row in stored)
        assert report.faults == ()
        assert upgrading.pending_migrations() == ()
    chain.look_up_first()
