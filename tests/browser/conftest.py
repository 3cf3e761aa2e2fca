"""A browser for each module and one furnished shop for all browser tests of a worker.

The browser ends with its module: while it is there an event loop runs in this thread, and the database refuses to work
beside one.
"""

import pytest

from lapwright.testing.browsing import launched, page_of
from lapwright.testing.served import served


@pytest.fixture(scope="module")
def browser():
    """The system's Chromium."""
    with launched() as started:
        yield started


@pytest.fixture(scope="session")
def address(tmp_path_factory):
    """A real server over an invented shop."""
    with served(tmp_path_factory.mktemp("shop") / "data", furnished=True) as address:
        yield address


@pytest.fixture
def page(browser):
    """A page on a bench screen."""
    with page_of(browser) as page:
        yield page
