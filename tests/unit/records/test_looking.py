"""The last write as a page sees it: one moment for all of the page, but never behind what the page itself wrote."""

import pytest

from lapwright.records import looking
from lapwright.testing.lot import Lot


@pytest.fixture
def last_write(records):  # noqa: ARG001  the database that it asks
    """What tells the number of the last write."""
    from lapwright.records import kept

    return kept.last_write


def test_a_page_sees_one_moment(last_write):
    """What another wrote meanwhile is not seen while the page is made, and is seen by the next."""
    with looking.one_look():
        before = last_write()
        looking_elsewhere(Lot().receive)
        assert last_write() == before
    assert last_write() > before


def test_what_a_page_writes_it_sees(last_write):
    """A write of the same thread ends the moment."""
    with looking.one_look():
        before = last_write()
        Lot().receive()
        assert last_write() > before


def test_an_inner_look_leaves_the_outer_as_it_was(last_write):
    """As when a page is made within another's making."""
    with looking.one_look():
        before = last_write()
        with looking.one_look():
            assert last_write() == before
        assert looking.seen() == before
    assert looking.seen() is None


def looking_elsewhere(deed):
    """Do something as another thread would: it leaves no sign in this one."""
    held = looking._here.at
    try:
        deed()
    finally:
        looking._here.at = held
