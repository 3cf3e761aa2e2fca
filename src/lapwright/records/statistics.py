"""What the database knows of how its tables are filled, by which it chooses among its indexes.

PostgreSQL keeps that up itself. SQLite does not: it takes every index to be as good as another until told to look.
"""

from __future__ import annotations

from django.db import OperationalError, connection

LEAST_SIZE = 16_000_000  # bytes; below that every way is quick, and what is seen of a new laboratory soon misleads
MOST_LOOKED_AT = 1_000_000  # rows of an index; of far fewer it does not see that nearly all sets are closed


def renew_statistics() -> bool:
    """Have SQLite look at its tables anew; whether it did. While somebody else writes for long, it is left."""
    if connection.vendor != "sqlite":
        return False
    with connection.cursor() as cursor:
        pages, page_size = (cursor.execute(f"PRAGMA {name}").fetchone()[0] for name in ("page_count", "page_size"))
        if pages * page_size < LEAST_SIZE:
            return False
        try:
            cursor.execute(f"PRAGMA analysis_limit = {MOST_LOOKED_AT}")
            for table in connection.introspection.table_names(cursor):  # one by one, so that nobody waits long to write
                cursor.execute(f"ANALYZE {connection.ops.quote_name(table)}")
        except OperationalError:
            return False
    return True
