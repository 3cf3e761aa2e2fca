"""Each schema there ever was, with a row in each of its tables, opened by this version; on SQLite and on PostgreSQL.

For each: the schema alone is made, filled, and brought up to date in one go; every column must be as it was stored and
the audit chain must hold. ``python tests/benchmark/campaign_upgrades.py [sqlite|postgresql]``
"""

import sys
import tempfile
import time
from pathlib import Path

from lapwright.testing.records import start_records


def main(kinds):
    """Print a line for each schema; the number of those that lost something."""
    from lapwright.testing.old_schemas import schemas
    from lapwright.testing.postgresql import new_database, postgresql

    wrong = 0
    with tempfile.TemporaryDirectory() as folder:
        settings = start_records(Path(folder))
        if "sqlite" in kinds:
            for name in schemas()[:-1]:
                wrong += _tried(settings, "SQLite", name, f"sqlite:///{folder}/{name}.sqlite3")
        if "postgresql" in kinds:
            with postgresql() as server:
                for name in schemas()[:-1]:
                    wrong += _tried(settings, "PostgreSQL", name, new_database(server, name))
    return wrong


def _tried(settings, kind, name, address):
    from lapwright.app.verification import verify_records
    from lapwright.records import chain, upgrading
    from lapwright.testing.old_schemas import filled, lost, old_database

    (settings.data / chain.ANCHOR_FILE).unlink(missing_ok=True)
    with old_database(address):
        stored = filled((name,))
        begun = time.perf_counter()
        upgrading.bring_up_to_date(settings)
        took = time.perf_counter() - begun
        chain.look_up_first()
        faults = lost(stored) + [fault.sentence for fault in verify_records().faults]
    print(f"{kind}, {name}: {len(stored)} rows, {took:.1f} s, {len(faults)} faults", *faults, sep="\n  ", flush=True)
    return bool(faults)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:] or ["sqlite", "postgresql"]))
