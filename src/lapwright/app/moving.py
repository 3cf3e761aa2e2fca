"""Use case: moving the records into another database."""

from __future__ import annotations

from dataclasses import dataclass

from lapwright.errors import Conflict, SettingError
from lapwright.model.evidence import ChainReport, CopiedTable
from lapwright.settings import DATABASE_SCHEMES


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """What was copied, table by table, and what verification finds there."""

    tables: tuple[CopiedTable, ...]
    chain: ChainReport

    @property
    def rows(self) -> int:
        """All rows."""
        return sum(one.rows for one in self.tables)


def move_records(address: str) -> Moved:
    """Copy all records into the empty database at an address, compare every row, and verify the chain there.

    All or nothing; the records here stay as they are, and nobody writes to them meanwhile. Raises `SettingError` for
    an address that is none or this very database, `Conflict` while a run is going or when something is there already,
    `RecordError` when the database cannot be used or a row did not arrive as it was.
    """
    from lapwright.app import live, wiring
    from lapwright.records import copying

    if address.partition("://")[0] not in DATABASE_SCHEMES or "://" not in address:
        raise SettingError(f"{address!r} is no address of a database; write it like postgresql://user@host/name.")
    if address == wiring.current_settings().database_url:
        raise SettingError("The records are in that database already. Name another one.")
    if live.is_following():
        raise Conflict("A run is going on under the recorder. Wait until it has ended, end the recorder, then move.")
    tables, report = copying.move_to(address)
    return Moved(tables=tables, chain=report)
