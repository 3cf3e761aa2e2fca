"""The Route page and its address for sliders: what they answer, and what they refuse."""

import html
import json

import pytest

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
