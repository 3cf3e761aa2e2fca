"""The list of pages that the benchmark asks for misses none of the addresses of the program."""

from django.test import RequestFactory
from django.urls import resolve

from lapwright.testing import page_list


def readable(patterns, space=""):
    """Names of the addresses that take GET: each view is asked with PUT, which none takes, and says what it takes."""
    for one in patterns:
        if hasattr(one, "url_patterns"):
            yield from readable(one.url_patterns, f"{one.namespace}:")
            continue
        name = f"{space}{one.name}"
        if name in page_list.LEFT_OUT or name == "api:api-root":
            continue
        answer = one.callback(RequestFactory().put("/"), **dict.fromkeys(one.pattern.converters, "1"))
        assert answer.status_code == 405, name
        if "GET" in answer.headers["Allow"]:
            yield name


def test_every_address_that_can_be_read_is_asked_for(started_records):  # noqa: ARG001  Django must be set up
    """Each by itself or with something asked; those left out say why."""
    from lapwright.web.urls import urlpatterns

    asked = {name.partition(",")[0] for name in page_list.PAGES}
    assert set(readable(urlpatterns)) - asked == set()
    assert asked & set(page_list.LEFT_OUT) == set()


def test_addresses_are_those_of_the_pages_named(lot):  # noqa: ARG001  the records it draws from
    """Drawn from a shop of one order; what it does not have is not asked for. Whys are those of one kind of page."""
    some = page_list.shop(2)
    kinds = [name for name in page_list.PAGES if not name.startswith("why, ") or name == "why, from wafer"]
    listed = {name: page_list.PAGES[name](some) for name in kinds}
    assert listed["traveller"][1].address == "/orders/AP-1"
    for name, found in listed.items():
        for one in found:
            assert resolve(one.address.partition("?")[0]).view_name == name.partition(",")[0]
