"""Orders: what goes on is never hidden; finished orders come a page at a time; an order is found by number or customer."""

from dataclasses import replace

import pytest

from lapwright.app import orders
from lapwright.testing.lot import ORDER, Lot
from lapwright.web.pages import orders as page


@pytest.fixture
def listed(records, monkeypatch):  # noqa: ARG001  the database it writes to
    """One order that goes on and three that are finished, two of them shown at once."""
    monkeypatch.setattr(page, "PAGE", 2)
    lot = Lot()
    for name in ("F-1", "F-2", "F-3", "G-1"):
        lot.receive(replace(ORDER, order_id=name, customer="Alder" if name == "F-2" else "Fennbach Filters"))
    for name in ("F-1", "F-2", "F-3"):
        orders.reject_wafer(f"{name}-01", **lot.why("broken"))


def text_of(client, address):
    """The page as text."""
    answer = client.get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def test_finished_orders_come_a_page_at_a_time(client, listed):  # noqa: ARG001
    """Two of three on the first page, with the one that goes on; the third on the second, alone."""
    first, second = text_of(client, "/orders"), text_of(client, "/orders?page=2")
    assert [name in first for name in ("G-1", "F-3", "F-2", "F-1")] == [True, True, True, False]
    assert [name in second for name in ("G-1", "F-3", "F-2", "F-1")] == [False, False, False, True]
    assert "page 1 of 2" in first


def test_an_order_is_found_by_its_customer(client, listed):  # noqa: ARG001
    """Part of the customer's name, in any case, is enough."""
    found = text_of(client, "/orders?find=aLDE")
    assert "F-2" in found
    assert "F-1" not in found


@pytest.mark.parametrize("address", ["/orders?page=0", "/orders?page=x", "/orders?page=99", "/orders?find=%25nobody"])
def test_an_odd_page_or_name_is_no_error(client, listed, address):  # noqa: ARG001
    """A page that is not there is empty, and text that finds nothing says so."""
    assert "What we have promised" in text_of(client, address)
