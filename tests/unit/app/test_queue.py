"""The Board's use cases: tasks from the records, the schedule in force, what-if, accepting."""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import pytest

from lapwright.app import orders, queue, queue_settings, routes, shelf
from lapwright.app.queue import BoardQuestion
from lapwright.app.queue_result import board_result, board_warnings
from lapwright.app.queue_shop import end_of_day, shop_now
from lapwright.app.queue_words import length, reasons
from lapwright.errors import BadInput, Conflict
from lapwright.model.board import BoardFacts, BoardPlace, HeldTask, ShopHours, WeekShift
from lapwright.model.wafer import Carrier, Round
from lapwright.testing.board_shop import PLAN, STAGES
from lapwright.testing.lot import CARRIER_THICKNESS, JIG, ORDER

HOUR = 3600.0


@pytest.fixture
def planned(lot, monkeypatch):
    """The order with a route, and a search short enough for a test."""
    monkeypatch.setattr(queue, "WORK", 0.2)
    monkeypatch.setattr(queue, "WALL", 20.0)
    routes.choose_route("AP-1", PLAN, **lot.why())
    return lot


def seen(at):
    """The Board as of a moment."""
    return queue.board(queue.moment(at))


def test_a_wafer_is_read_bonded_cut_read_and_taken_off(planned):
    """The parts of one cut are one task with the reading between them; one behind each cut; 45 min of bonding."""
    now = shop_now(planned.now, BoardFacts())
    tasks = {task.name: task for task in now.shop.tasks}

    assert list(tasks) == [
        "measure in", "bond", "read the stack", "coarse lap", "read after coarse lap", "polish", "read on the carrier",
        "take off", "read free",
    ]  # fmt: skip
    assert tasks["bond"].duration + tasks["bond"].rest == 45 * 60.0
    assert tasks["coarse lap"].duration == 600.0 + 3000.0 + 1200.0 + 500.0
    assert tasks["coarse lap"].in_hours
    assert not tasks["polish"].in_hours
    assert (tasks["coarse lap"].places, tasks["polish"].places) == (("L1",), ("P1",))
    assert tasks["coarse lap"].setting.grain > tasks["polish"].setting.grain
    assert tasks["read free"].after == ("AP-1-01/take off",)


def test_what_nobody_entered_is_said_to_be_assumed(planned):
    """Hours, times, and a bench, a bonder, a place to clean."""
    board = seen(planned.now)
    assert len(board.now.assumed) == 5
    assert {one["code"] for one in board_warnings(board)} == {"board.assumed", "board.not_accepted"}


def test_a_note_leaves_the_board_as_it_is_and_a_place_does_not(planned):
    """What a schedule does not rest on costs no planning anew."""
    at = planned.now
    before = seen(at)
    orders.add_note("AP-1", "Looked at.", by="local", reason="word", at=at)
    assert seen(at) is before
    queue_settings.put_place(BoardPlace(place_id="B9", name="bonder", kind="bond"), by="local", reason="new", at=at)
    assert seen(at) is not before
    assert "B9" in {place.place_id for place in seen(at).now.shop.places}


def test_an_order_without_a_route_is_left_out_with_its_reason(lot):
    """It is named, and nothing is guessed for it."""
    board = seen(lot.now)
    assert board.tasks == ()
    assert board.now.left_out == (("AP-1", "has no route yet. Choose one, then it can be planned."),)


def test_a_plate_that_lies_nowhere_is_named(planned):
    """A route on a plate that no station has."""
    from dataclasses import replace

    stages = (STAGES[0], replace(STAGES[1], plate="copper", plate_name="copper plate"))
    orders.receive_order(replace(ORDER, order_id="AP-2"), **planned.why())
    routes.choose_route("AP-2", replace(PLAN, stages=stages), **planned.why())
    now = shop_now(planned.now, BoardFacts())
    assert now.left_out[0][0] == "AP-2"
    assert "copper plate" in now.left_out[0][1]
    entered = BoardFacts(places=(BoardPlace(place_id="L1", kind="lap", plates=("copper",)),))
    assert shop_now(planned.now, entered).left_out == ()


def test_nothing_is_in_force_before_somebody_accepts_it(planned):
    """A proposal; accepted it is in force, and stands the same when looked at again."""
    at = queue.moment(planned.now)
    assert seen(planned.now).in_force is None
    why = planned.why("week ahead")
    recorded = queue.accept(BoardQuestion(), at, seen=None, by=why["by"], reason=why["reason"], now=why["at"])
    board = queue.board(at)
    assert board.in_force.plan_id == recorded.plan_id
    assert board.tasks == recorded.plan.tasks
    assert queue.promised()["AP-1"].sure_90 >= queue.promised()["AP-1"].sure_80


def test_two_who_accept_at_once_do_not_overwrite_each_other(planned):
    """The second saw none in force."""
    at, why = queue.moment(planned.now), planned.why()
    more = {"by": why["by"], "reason": why["reason"], "now": why["at"]}
    queue.accept(BoardQuestion(), at, seen=None, **more)
    with pytest.raises(Conflict, match="accepted in the meantime"):
        queue.accept(BoardQuestion(), at, seen=None, **more)


def test_what_if_shows_what_it_moves_and_records_nothing(planned):
    """L1 down all day: the lap comes later, and what is in force stays until that is accepted."""
    at, why = queue.moment(planned.now), planned.why()
    more = {"by": why["by"], "reason": why["reason"], "now": why["at"]}
    first = queue.accept(BoardQuestion(), at, seen=None, **more)
    question = BoardQuestion(down=("L1", at, at + timedelta(hours=12), "belt"))
    proposal = queue.propose(question, at)

    assert any(one.name == "coarse lap" and one.kind == "later" for one in proposal.changes)
    assert queue.board(at).tasks == first.plan.tasks
    second = queue.accept(question, at, seen=first.plan_id, **more)
    lap = next(one for one in second.plan.tasks if one.name == "coarse lap")
    assert lap.begin >= (at + timedelta(hours=12)).timestamp()
    assert [one.closed[0].reason for one in queue_settings.places() if one.place_id == "L1"] == ["belt"]


def test_a_task_set_by_hand_stays_until_it_is_let_go(planned):
    """Bonding held to the next day; let go it moves forward again."""
    at, why = queue.moment(planned.now), planned.why()
    more = {"by": why["by"], "reason": why["reason"], "now": why["at"]}
    tomorrow = (at + timedelta(days=1)).timestamp()
    fix = HeldTask(task_id="AP-1-01/bond", place_id="bonder", start=tomorrow)
    first = queue.accept(BoardQuestion(fix=fix), at, seen=None, **more)
    bond = next(one for one in first.plan.tasks if one.name == "bond")
    assert bond.start >= tomorrow
    assert queue.board(at).held == (fix,)
    freed = queue.propose(BoardQuestion(let_go="AP-1-01/bond"), at)
    assert next(one for one in freed.tasks if one.name == "bond").start < tomorrow


def test_a_change_of_what_is_not_there_is_refused(planned):
    """A place, an order, a task that nobody knows; a place that cannot do it."""
    at = queue.moment(planned.now)
    for question in (
        BoardQuestion(down=("L9", at, at + timedelta(hours=1), "")),
        BoardQuestion(first="AP-9"),
        BoardQuestion(fix=HeldTask(task_id="AP-1-09/bond", place_id="bonder", start=0.0)),
        BoardQuestion(fix=HeldTask(task_id="AP-1-01/bond", place_id="L1", start=0.0)),
    ):
        with pytest.raises(BadInput):
            queue.propose(question, at)


def test_lateness_is_told_with_its_reasons(planned):
    """Due today and too much to do: how late, and what it waits for."""
    from dataclasses import replace

    late = replace(ORDER, order_id="AP-3", quantity=5, due=planned.now.date())
    orders.receive_order(late, **planned.why())
    routes.choose_route("AP-3", PLAN, **planned.why())
    board = seen(planned.now)
    outlook = next(one for one in board.orders if one.order_id == "AP-3")
    assert outlook.late > 0.0
    assert outlook.chance < 0.5
    assert any("bond: waits" in one and "no carrier of 76.2 mm is free until" in one for one in reasons(board, outlook))
    for number in range(2, 8):
        carrier = Carrier(carrier_id=f"C{number}", material="glass", diameter=0.0762, nominal_thickness=3e-3)
        shelf.receive_carrier(carrier, **planned.why())
        shelf.register_jig(replace(JIG, jig_id=f"J{number}"), **planned.why())
    board = seen(planned.now)
    outlook = next(one for one in board.orders if one.order_id == "AP-3")
    assert any("waits" in sentence and "L1" in sentence for sentence in reasons(board, outlook))
    told = board_result(board)
    assert told["orders"][0]["order"] == "AP-3"
    assert told["orders"][0]["late_h"] > 0.0


def test_carriers_and_jigs_of_the_shelf_are_counted(planned):
    """One of each: on the carrier from bonding to taking off, on the jig from first to last cut; too small is none."""
    from dataclasses import replace

    now = shop_now(planned.now, BoardFacts())
    wafer = "AP-1-01"
    assert {(kit.name, kit.count) for kit in now.shop.kits} == {("carrier of 76.2 mm", 1), ("jig", 1)}
    assert {(one.kit_id, one.first, one.last) for one in now.shop.holds} == {
        ("carrier of 76.2 mm", f"{wafer}/bond", f"{wafer}/take off"),
        ("jig", f"{wafer}/coarse lap", f"{wafer}/polish"),
    }
    small = replace(ORDER, order_id="AP-4", outline=Round(diameter=0.1))
    orders.receive_order(small, **planned.why())
    routes.choose_route("AP-4", PLAN, **planned.why())
    now = shop_now(planned.now, BoardFacts())
    assert any("No carrier for wafers of 100 mm" in sentence for sentence in now.assumed)
    assert "AP-4-01/bond" not in {one.first for one in now.shop.holds}

    planned.read(wafer, "wafer", "incoming", lambda _x, _y: 500e-6)
    planned.read("C1", "carrier", "carrier", lambda _x, _y: CARRIER_THICKNESS)
    planned.bond(wafer, lambda _x, _y: 500e-6)
    now = shop_now(planned.now, BoardFacts())
    assert {(one.kit_id, one.first) for one in now.shop.holds if one.last.startswith(wafer)} == {
        ("carrier of 76.2 mm", ""), ("jig", f"{wafer}/coarse lap"),
    }  # fmt: skip


def test_hours_are_those_of_the_wall_clock(records, monkeypatch):  # noqa: ARG001  settings must be there
    """8 o'clock stays 8 o'clock over the change to summer time; a free day ends at midnight."""
    from lapwright.app import queue_shop

    zone = ZoneInfo("Europe/Berlin")
    monkeypatch.setattr(queue_shop, "laboratory_zone", lambda: zone)
    hours = ShopHours(week=tuple(WeekShift(weekday=day, start=8 * HOUR, end=17 * HOUR) for day in range(5)))
    assert end_of_day(date(2026, 3, 30), hours).isoformat() == "2026-03-30T17:00:00+02:00"
    assert end_of_day(date(2026, 3, 29), hours).isoformat() == "2026-03-30T00:00:00+02:00"
    assert (length(50 * 60), length(2 * HOUR), length(5400)) == ("50 min", "2 h", "1 h 30 min")


def test_settings_are_checked(lot):
    """A plate that no library knows, hours without anybody."""
    with pytest.raises(BadInput, match="knows no plate"):
        queue_settings.put_place(BoardPlace(place_id="L1", plates=("cheese",)), **lot.why())
    with pytest.raises(BadInput, match="No hours are left"):
        queue_settings.put_hours(ShopHours(week=()), **lot.why())


def test_where_all_is_invented_the_board_stays_in_its_story(planned):
    """A demonstration is shown for its own last day, also after somebody accepted a schedule today."""
    from dataclasses import replace

    now = planned.now + timedelta(days=90)
    assert queue.moment(now) > planned.now + timedelta(days=89)
    orders.reject_wafer("AP-1-01", by="local", reason="broken", at=planned.now)
    orders.receive_order(replace(ORDER, order_id="AP-9"), simulated=True, **planned.why())
    told = planned.now
    queue_settings.put_place(BoardPlace(place_id="B1", kind="bond"), by="local", reason="x", at=now)
    assert timedelta(0) <= told - queue.moment(now) < timedelta(minutes=5)
