"""What the latest transactions wrote: told from memory as the database would tell it."""

import pytest

from lapwright.testing.lot import Lot

TABLES = ("wafer", "order", "note", "waferevent", "readingset")


@pytest.fixture
def asked(records):  # noqa: ARG001  the database that is asked
    """What is asked of the chain, and the memory that answers."""
    from lapwright.records import kept, latest_writes

    return kept, latest_writes


def test_a_link_is_read_as_the_chain_writes_it(asked):
    """Rows by their keys; a row that was let go is written to, too; the form of a table is no write."""
    link = "row wafer 3 ab12\nrow wafer 5 cd34\ndrop note 2 ef56\nform zero at by"
    told = asked[1].written(7, link)
    assert (told.tables, told.rows) == ({"wafer", "note"}, {"wafer": {3, 5}})


def test_memory_tells_what_the_database_tells(asked):
    """After each of some writes, for each moment before; the memory is emptied, and the database answers."""
    from lapwright.app import orders

    kept, memory = asked
    kept.last_write()
    assert memory.after(kept.last_write(), kept.last_write()) == []
    first, lot = kept.last_write(), Lot()
    lot.receive()
    for words in ("one", "two"):
        orders.add_note("AP-1", words, **lot.why())
    moments = range(first, kept.last_write() + 1)
    assert len(moments) > 3
    from_memory = told(kept, moments)
    assert memory.after(first, kept.last_write())
    memory.forget()
    assert memory.after(first, kept.last_write()) is None
    assert told(kept, moments) == from_memory


def test_in_a_transaction_memory_says_nothing(asked):
    """What stands there may yet be rolled back."""
    from lapwright.records import writer

    kept, memory = asked
    with writer.transaction():
        assert memory.after(kept.last_write(), kept.last_write()) is None


def test_a_link_that_is_too_long_is_not_held(asked, monkeypatch):
    """And none before it, so that nothing is left out."""
    kept, memory = asked
    first = kept.last_write()
    memory.after(first, first)
    monkeypatch.setattr(memory, "MOST_LETTERS", 10)
    Lot().receive()
    assert memory.after(first, kept.last_write()) is None
    assert kept.wrote_into(first, frozenset({"wafer"}))


def told(kept, moments):
    """All answers for some moments."""
    return [
        (kept.wrote_into(since, frozenset({table})), kept.wrote_only(since, frozenset({table, "note"})),
         kept.rows_written(since, {table}))
        for since in moments
        for table in TABLES
    ]  # fmt: skip
