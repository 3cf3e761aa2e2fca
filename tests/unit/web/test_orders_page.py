"""Orders: what goes on is never hidden; finished orders come a page at a time; an order is found by number or customer."""

import gzip
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


def test_a_program_gets_the_orders_some_at_a_time(client, listed):  # noqa: ARG001
    """Asked on from where the answer says, each of the four comes once; then there is no next one."""
    found, start = [], 0
    while start is not None:
        result = client.get(f"/api/orders?count=3&start={start}").json()["result"]
        assert result["total"] == 4
        found += [one["order"] for one in result["orders"]]
        start = result["next_start"]
    assert sorted(found) == ["F-1", "F-2", "F-3", "G-1"]
    assert [one["order"] for one in client.get("/api/orders?find=alder").json()["result"]["orders"]] == ["F-2"]
    assert [one["order"] for one in client.get("/api/orders?show=going").json()["result"]["orders"]] == ["G-1"]


@pytest.mark.parametrize("asked", ["count=0", "count=501", "start=-1", "start=x", "show=lost"])
def test_a_wrong_stretch_of_orders_is_refused(client, listed, asked):  # noqa: ARG001
    """The field is named; nothing is clipped to what would do."""
    answer = client.get(f"/api/orders?{asked}")
    assert answer.status_code == 422
    assert asked.partition("=")[0] in answer.json()["errors"][0]["field"]


def test_a_large_page_comes_packed_where_it_can_be_unpacked(client, listed):  # noqa: ARG001
    """The packed page is the page; a small one, and one for who cannot unpack, come as they are."""
    packed = client.get("/help", headers={"Accept-Encoding": "gzip"})
    assert packed["Content-Encoding"] == "gzip"
    assert "Accept-Encoding" in packed["Vary"]
    plain = client.get("/help")
    assert "Content-Encoding" not in plain
    assert len(packed.content) < 0.3 * len(plain.content)
    assert gzip.decompress(packed.content).decode().count("<h2") == plain.content.decode().count("<h2")
    assert "Content-Encoding" not in client.get("/health", headers={"Accept-Encoding": "gzip"})
