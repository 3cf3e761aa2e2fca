"""The Route page and its address for sliders: what they answer, and what they refuse."""

import html
import json
import re
from datetime import UTC, datetime

import pytest

from lapwright.app import queue_planner, route_kept, route_questions, route_work, wiring
from lapwright.testing.page_list import FORM

PAGE, TRY = "/orders/AP-1/route", "/api/orders/AP-1/route"
TOOLS = "iron plate~al2o3-15;iron plate~al2o3-3;polishing pad~silica-colloidal"


@pytest.fixture
def page(client, lot):  # noqa: ARG001  the order
    """The client, with an order to plan."""
    return client


def asked(page, **query):
    """Status and answer of the address for sliders."""
    answer = page.get(TRY, {"tools": TOOLS, **query})
    return answer.status_code, json.loads(answer.content)


def test_a_slider_gets_stack_time_cost_and_chances(page):
    """Removals add up to the stock; the drawing is asked for apart; more margin takes longer."""
    status, thin = asked(page, finish_margin="1.5")
    _, thick = asked(page, finish_margin="4", drawing="true")

    assert (status, thin["ok"], "drawing" in thin["result"]) == (200, True, False)
    assert sum(stage["removal_um"] for stage in thick["result"]["stages"]) == pytest.approx(400.0)
    assert thick["result"]["total_time_min"] > thin["result"]["total_time_min"]
    assert thick["result"]["total_cost"] > 0.0
    assert {one["limit"] for one in thick["result"]["chances"]} >= {"thickness", "ttv", "damage"}
    assert thick["result"]["drawing"].startswith("<svg")


@pytest.mark.parametrize(
    ("query", "status", "words"),
    [
        ({"tools": "nowhere~nothing"}, 422, "not among the tools"),
        ({"tools": "iron plate"}, 422, "place~abrasive"),
        ({"load_percent": "101"}, 422, "100"),
        ({"speed_percent": "nan"}, 422, "speed_percent"),
        ({"finish_margin": "0"}, 422, "finish_margin"),
        ({"target_chance_percent": "100"}, 422, "target_chance_percent"),
        ({"wafer": "XX-9"}, 404, "XX-9"),
    ],
)  # fmt: skip
def test_what_cannot_be_asked_is_refused_in_a_sentence(page, query, status, words):
    """Never a page of our own faults."""
    got, answer = asked(page, **query)

    assert got in (status, 400)
    assert answer["ok"] is False
    assert words in json.dumps(answer)


def test_the_page_compares_tells_and_lets_set_by_hand(page):
    """Names instead of ids; words of why; remedies; the aim is kept in every form."""
    text = page.get(PAGE, {"objective": "cost", "chance": "85"}).content.decode()

    for words in ("cheapest", "alumina 15 µm", "What limits the first", "because", 'name="chance" value="85.0"'):
        assert words in text
    assert "al2o3-15 / cast-iron" not in text


@pytest.mark.parametrize(
    ("query", "told"),
    [
        ({"chance": "abc", "tools": "x~y"}, ("must lie between 50 and 99.9 %", "not among the tools")),
        (
            {"chance": "200", "load_percent": "9999", "lap_margin": "much"},
            (
                "must lie between 50 and 99.9 %",
                "found “9999”, expected a number from 0 to 100 in %",
                "found “much”, expected a factor from 1 to 8, without a unit",
            ),
        ),
    ],
)
def test_odd_questions_to_the_page_are_told_on_it(page, query, told):
    """The page stands, with a sentence for each fault: the field, what was found, what is expected."""
    answer = page.get(PAGE, query)

    assert answer.status_code == 200
    for words in told:
        assert words in html.unescape(answer.content.decode())


def test_an_unknown_wafer_is_not_found(page):
    """A wafer of nowhere has no route."""
    assert page.get(PAGE, {"wafer": "XX-9"}).status_code == 404


def test_the_route_set_by_hand_is_chosen_as_it_was_set(page):
    """Its margin is the one recorded; an order of other orders is not touched."""
    from lapwright.app import routes

    fields = {"tools": TOOLS, "load_percent": "50", "speed_percent": "100", "lap_margin": "1.5", "finish_margin": "3"}
    answer = page.post(PAGE, {"route": "by hand", "reason": "sure", **fields})
    chosen = routes.chosen_route("AP-1")
    told = asked(page, **fields)[1]["result"]

    assert answer.status_code == 302
    assert chosen.signature.reason == "sure"
    assert chosen.plan.total_time / 60.0 == pytest.approx(told["total_time_min"])
    assert page.post(PAGE, {"route": "by hand", **fields, "lap_margin": "99"}).status_code == 409


@pytest.fixture
def beside(page, monkeypatch):
    """Pages that are served, with a planner that works when a test says so."""
    monkeypatch.setattr(wiring, "_serving", True)
    monkeypatch.setattr(queue_planner, "wake", lambda: None)
    monkeypatch.setattr(route_kept, "_ready", {})
    return page


def test_the_page_comes_at_once_and_tells_the_routes_when_they_are_found(beside):
    """First what is known without them, how it is looked at again without script, and the aim; then all of it."""
    first = beside.get(PAGE, {"objective": "cost"}).content.decode()
    assert ("data-going" in first, "Routes are being searched" in first) == (True, True)
    assert f'href="{PAGE}?objective=cost">Look again' in first
    assert 'http-equiv="refresh"' in first
    assert 'id="route-1"' not in first

    assert route_work.work_one()
    found = beside.get(PAGE, {"objective": "cost"}).content.decode()
    assert ("data-going" in found, 'http-equiv="refresh"' in found, 'id="route-1"' in found) == (False, False, True)


def test_a_route_is_chosen_although_its_search_is_not_kept(beside):
    """What was shown is found again by its mark, or refused with the reason and searched."""
    from lapwright.records import route_searches as rows

    refused = beside.post(PAGE, {"route": "nothing of the kind", "reason": "no"})
    assert refused.status_code == 409
    assert "Nothing was chosen" in refused.content.decode()
    mark = re.search(r'name="route" value="(\w{16})"', _found(beside))[1]
    kept = route_questions.ask("AP-1").mark
    rows.want(kept, {"order": "AP-1"}, datetime.now(UTC))  # as if it had made room
    route_kept._ready.clear()
    assert beside.post(PAGE, {"route": mark, "reason": "shortest"}).status_code == 302


def test_a_search_that_was_given_up_is_told(beside):
    """With what can be done; nothing of a fault is shown."""
    from lapwright.records import route_searches as rows

    beside.get(PAGE)
    rows.begin(route_questions.ask("AP-1").mark, route_work.MOST_TRIES, datetime.now(UTC))
    text = html.unescape(beside.get(PAGE).content.decode())
    assert "ended again and again" in text
    assert "data-going" not in text


def test_what_is_typed_is_told_at_once_and_its_chance_when_it_is_found(beside):
    """What the gauge can prove and what binds stand at once; an order that is taken has its routes searched ahead."""
    first = beside.post("/orders/new/outlook", FORM).content.decode()
    assert ("data-going" in first, "It can be met" in first, "Chance within all limits" in first) == (True, True, False)
    assert beside.post("/intake/look", FORM).content.decode().count("data-going") == 1
    assert route_work.work_one()
    assert not route_work.work_one()  # both asked the same
    found = beside.post("/intake/look", FORM).content.decode()
    assert ("data-going" in found, "Chance within all limits" in found) == (False, True)
    assert "A piece, at even odds" in found

    assert beside.post("/orders/new", FORM).status_code == 302
    assert route_work.is_wanted(datetime.now(UTC))


def _found(page):
    """The page with the routes."""
    page.get(PAGE)
    route_work.work_one()
    return page.get(PAGE).content.decode()
