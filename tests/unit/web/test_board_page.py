"""The Board and what it plans with, asked for without a browser."""

import html
import re
from datetime import UTC, datetime

import pytest

from lapwright.app import queue, queue_planner, queue_settings, wiring
from lapwright.model.board import BoardPlace
from lapwright.testing.board_shop import fill_board
from lapwright.testing.lot import Lot
from lapwright.web import board_window

AT = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)  # a Wednesday
MOMENT = int(AT.timestamp())


@pytest.fixture
def shop(client, monkeypatch):
    """An order of five wafers with a route, due today; a search short enough for a test."""
    monkeypatch.setattr(queue, "WORK", 0.2)
    monkeypatch.setattr(queue, "WALL", 20.0)
    lot = Lot()
    lot.furnish()
    fill_board(lot)
    return client


def read(client, address, **asked):
    """A page as text."""
    answer = client.get(address, {"at": MOMENT, **asked})
    return answer.status_code, answer.content.decode()


def test_late_is_told_with_its_reasons_and_a_proposal_is_accepted(shop):
    """Before: a proposal. After: in force, and the orders page shows the chance of the date."""
    status, page = read(shop, "/board")
    assert status == 200
    assert "Nobody has accepted a schedule yet" in page
    assert "Why BOARD-1 is" in page
    assert "bond: waits" in page
    assert "no carrier of 76.2 mm is free until" in page
    assert "at best" in page or "proved best" in page
    assert shop.post("/board", {"at": MOMENT, "seen": "", "reason": "week ahead"}).status_code == 302
    status, page = read(shop, "/board")
    assert "is in force" in page
    assert "Nobody has accepted" not in page
    assert "by then" in shop.get("/orders").content.decode()


def test_what_if_is_a_question_and_its_faults_stand_beside_the_boxes(shop):
    """A place down shows the change; an unknown place, times the wrong way round and half a question are refused."""
    shop.post("/board", {"at": MOMENT})
    down = {"down": "L1", "down_from": "2026-11-25T09:00", "down_until": "2026-11-25T15:00", "down_why": "belt"}
    status, page = read(shop, "/board", **down)
    assert status == 200
    assert "This is what would change" in page
    assert "closed: belt" in page
    assert 'name="down" value="L1"' in page
    assert [one.closed for one in queue_settings.places() if one.place_id == "L1"] == [()]
    for wrong in (
        {"down": "L9"}, {**down, "down_until": "2026-11-24T15:00"}, {"fix": "BOARD-1-01/bond"},
        {"fix": "X/bond", "fix_place": "L1", "fix_start": "2026-11-25T10:00"},
    ):  # fmt: skip
        assert read(shop, "/board", **wrong)[0] == 422
    assert shop.post("/board", {"at": MOMENT, "seen": "9999"}).status_code == 409


def test_the_json_says_the_same(shop):
    """In force or asked about, in the one shape of answers."""
    answer = shop.get("/api/board", {"at": MOMENT}).json()
    assert answer["ok"]
    assert answer["result"]["is_proposal"]
    assert answer["result"]["orders"][0]["late_h"] > 0.0
    assert {one["code"] for one in answer["warnings"]} == {"board.assumed", "board.not_accepted"}
    asked = shop.get("/api/board", {"at": MOMENT, "extra_from": "2026-11-25T17:00", "extra_until": "2026-11-25T23:00"})
    assert asked.json()["result"]["hours"]["extra"][0]["people"] == 1
    assert shop.get("/api/board", {"at": MOMENT, "first": "AP-9"}).status_code == 422


def test_places_hours_and_times_are_entered_by_forms(shop):
    """A place with another plate, Saturday hours, minutes of a wash; a plate that nobody knows is refused."""
    place = {"deed": "place", "place_id": "L1", "kind": "lap", "positions": "3", "plates": "copper, glass"}
    assert shop.post("/board/shop", place).status_code == 302
    assert shop.post("/board/shop", {**place, "plates": "cheese"}).status_code == 422
    hours = {"deed": "hours", "from_5": "08:00", "until_5": "12:30", "people_5": "2"}
    assert shop.post("/board/shop", hours).status_code == 302
    assert shop.post("/board/shop", {**hours, "until_5": ""}).status_code == 422
    assert shop.post("/board/shop", {"deed": "hours"}).status_code == 422
    for sent in ({}, {"deed": "nothing"}):
        refused = shop.post("/board/shop", sent)
        assert (refused.status_code, "does not say what it is to record" in refused.content.decode()) == (422, True)
    minutes = dict.fromkeys(
        ("plate_change", "cleaning", "templates", "loading", "bonding", "cooling", "reading", "taking_off"), "20"
    )
    assert shop.post("/board/shop", {"deed": "times", **minutes, "wash": "7.5"}).status_code == 302

    known = {one.place_id: one for one in queue_settings.places()}
    assert (known["L1"].positions, known["L1"].plates) == (3, ("copper", "glass"))
    assert [(one.weekday, one.end, one.people) for one in queue_settings.hours().week] == [(5, 45000.0, 2)]
    assert queue_settings.times().changeovers.wash == 450.0
    assert "copper, glass" in shop.get("/board/shop").content.decode()


def test_no_page_waits_for_the_planner(shop, monkeypatch):
    """While there is no plan the page says so; an old one is shown with what came since; what was shown is accepted."""
    monkeypatch.setattr(wiring, "_serving", True)
    monkeypatch.setattr(queue_planner, "wake", lambda: None)
    status, page = read(shop, "/board")
    assert status == 200
    assert "The schedule is being worked out" in page
    assert "Look again" in page
    assert "data-going" in page
    shop.get("/board")  # of now
    queue_planner.work_through()
    assert "nothing that it rests on was recorded since" in read(shop, "/board")[1]

    queue_settings.put_place(BoardPlace(place_id="B9", kind="bond"), by="local", reason="new", at=AT)
    page = read(shop, "/board")[1]
    assert "before 1 setting of the Board" in page
    answer = shop.get("/api/board").json()  # nor does a program
    assert answer["result"]["tasks"]
    assert [one["rows"] for one in answer["warnings"] if one["code"] == "board.old"] == [1]
    assert "Nobody has accepted a schedule yet" in page
    extra = {"extra_from": "2026-11-25T17:00", "extra_until": "2026-11-25T23:00"}
    page = read(shop, "/board", **extra)[1]
    assert "What this would change is being worked out" in page
    assert "proposal-head" not in page  # nothing else is to be accepted meanwhile
    assert "What this would change is being worked out" in read(shop, "/board/state", **extra)[1]
    assert shop.post("/board", {"at": MOMENT, "seen": "", **extra}).url.startswith("/board?")  # not shown yet
    queue_planner.work_through()
    assert 'name="extra_from"' in read(shop, "/board", **extra)[1]
    assert shop.post("/board", {"at": MOMENT, "seen": "", **extra}).url == "/board"
    page = read(shop, "/board")[1]
    assert "is in force" in page
    assert "nothing that it rests on was recorded since" in page
    assert shop.get("/board", {"anew": "1"}).url.startswith("/board?anew=1&at=")


def test_a_few_days_are_shown_at_a_time(shop, monkeypatch):
    """Each other stretch is one press away, with its tasks; strips and list hold the same days."""
    monkeypatch.setattr(board_window, "AT_ONCE", 1)
    page = read(shop, "/board")[1]
    shown = re.findall(r'href="\?([^"]*day=[^"]*)#days"', page)
    assert len(shown) >= 2
    assert page.count('class="day"') == 1
    later = shop.get("/board?" + html.unescape(shown[1])).content.decode()
    assert later.count('class="day"') == 1
    assert f'{shown[1]}#days" aria-current="true"' in later
    assert page.count("?task=") != later.count("?task=")


def test_without_the_solver_the_page_says_what_to_install(shop, monkeypatch):
    """The sentence, not a broken page."""
    monkeypatch.setitem(__import__("sys").modules, "ortools.sat.python", None)
    status, page = read(shop, "/board")
    assert status == 422
    assert "pip install" in page
