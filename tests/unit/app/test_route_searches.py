"""Routes searched beside the pages: asked for, found once, kept, given up; the same answer as on the spot."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from lapwright.app import (
    order_outlook,
    orders,
    queue_planner,
    route_kept,
    route_questions,
    route_searches,
    route_work,
    typed_routes,
    wiring,
)
from lapwright.app.route_questions import Aim
from lapwright.errors import ImpossibleOrder

DAY = datetime.now(UTC).date()


@pytest.fixture
def served(lot, monkeypatch):
    """An order in a process that serves pages, nothing kept in memory, and nobody at work until a test says so."""
    monkeypatch.setattr(wiring, "_serving", True)
    monkeypatch.setattr(queue_planner, "wake", lambda: None)
    monkeypatch.setattr(route_kept, "_ready", {})
    monkeypatch.setattr(route_work, "TYPED_ON", timedelta(hours=1))  # however slow the machine
    return lot


def now():
    """The time, which the planner takes from the clock, too."""
    return datetime.now(UTC)


def look(later=timedelta(0)):
    """What a page is shown of the routes of the order."""
    return route_searches.look(route_questions.ask("AP-1"), now() + later)


def work():
    """Make every search that is wanted; how many there were."""
    count = 0
    while route_work.work_one():
        count += 1
    return count


def test_a_page_does_not_wait_and_gets_what_a_search_on_the_spot_finds(served, monkeypatch):  # noqa: ARG001  the order
    """First nothing, then the routes to the last bit, after a restart, too, and nothing is searched twice."""
    assert look().is_going
    assert look().is_going
    assert work() == 1
    found = look().findings
    route_kept._ready.clear()  # as a restart does
    again = look().findings
    assert work() == 0

    monkeypatch.setattr(wiring, "_serving", False)
    spot = look().findings
    assert repr(found) == repr(again) == repr(spot)
    assert spot.remedies
    assert spot.sensitivities
    assert spot.by_hand.total_time == pytest.approx(spot.searched.plans[0].total_time, rel=0.02)


def test_another_aim_is_another_search_and_a_note_none(served):
    """What the answer rests on makes the mark: the aim does, a note and the customer's name do not."""
    asked = route_questions.ask("AP-1")
    orders.add_note("AP-1", "Looked at.", by="local", reason="word", at=now())
    assert route_questions.ask("AP-1").mark == asked.mark
    assert route_questions.ask("AP-1", Aim(objective="cost")).mark != asked.mark
    assert replace(asked, order=replace(asked.order, customer="Another", order_id="Z")).mark == asked.mark
    thinner = replace(asked.order, target_thickness=asked.order.target_thickness - 1e-9)
    assert replace(asked, order=thinner).mark != asked.mark
    del served


def test_what_cannot_be_met_is_told_and_kept(served):
    """An order with too little stock: the sentence with its code, once found."""
    terms = replace(route_questions.ask("AP-1").order, start_thickness=101e-6, target_thickness=100e-6)
    asked = typed_routes.ask(terms, on=DAY)
    assert route_searches.look(asked, now()).is_going
    work()
    seen = route_searches.look(asked, now())
    assert isinstance(seen.refusal, ImpossibleOrder)
    assert "of stock" in seen.refusal.sentence
    assert order_outlook.order_outlook(terms, at=now()).no_route == seen.refusal.sentence
    del served


def test_a_search_that_fails_is_given_up_and_tried_again_later(served, monkeypatch):  # noqa: ARG001  the order
    """A fault of ours: the page says so at once; after a minute it is tried anew."""

    def failing(question):
        raise MemoryError(question)

    look()
    with monkeypatch.context() as broken:
        broken.setattr(route_work, "_searched", failing)
        assert work() == 1
    assert (look().is_given_up, look().is_going) == (True, False)
    assert look(timedelta(minutes=2)).is_going
    assert work() == 1
    assert look().findings is not None


def test_a_search_whose_planner_was_killed_is_begun_three_times_at_most(served):  # noqa: ARG001  the order
    """Begun without an end: others take it up, and in the end it is left."""
    from lapwright.records import route_searches as rows

    look()
    key = route_questions.ask("AP-1").mark
    for tries in range(1, route_work.MOST_TRIES):
        rows.begin(key, tries, now())
        assert route_work.is_wanted(now())
    rows.begin(key, route_work.MOST_TRIES, now())
    assert not route_work.is_wanted(now())
    assert look().is_given_up


def test_what_was_typed_on_is_not_searched_and_the_last_comes_first(served):
    """Of three that were typed one is still asked for; an order's routes are never left out."""
    from lapwright.records import route_searches as rows

    terms = route_questions.ask("AP-1").order
    typed = [typed_routes.ask(replace(terms, target_thickness=target), on=DAY) for target in (1e-4, 1.1e-4)]
    for asked, age in zip(typed, (7200.0, 1.0), strict=True):
        route_searches.look(asked, now() - timedelta(seconds=age))
    look(timedelta(hours=-3))
    wanted = rows.next_wanted(most_tries=3, typed_after=now() - route_work.TYPED_ON)
    assert wanted.key == typed[1].mark
    rows.drop(wanted.key)
    assert rows.next_wanted(most_tries=3, typed_after=now() - route_work.TYPED_ON).key == (
        route_questions.ask("AP-1").mark
    )
    del served


def test_what_is_found_for_a_question_that_has_changed_is_kept_under_its_new_mark(served):
    """The order was asked for, then changed: its search finds what holds now."""
    from lapwright.records import route_searches as rows

    old = route_questions.ask("AP-1")
    route_searches.look(old, now())
    rows.begin(old.mark, 1, now())
    key = old.mark[::-1]
    rows.want(key, old.told, now())  # the mark of then
    rows.drop(old.mark)
    assert work() == 1
    assert rows.search(key) is None
    assert look().findings is not None
    del served


def test_bytes_of_another_version_are_searched_anew(served):  # noqa: ARG001  the order
    """What cannot be read counts as not there."""
    from lapwright.records import route_searches as rows

    asked = route_questions.ask("AP-1")
    for data in (b"", b"nonsense", b"x\x9c\x03\x00\x00\x00\x00\x01"):
        assert route_kept.unpacked(data, asked.setting) is None
    rows.put(asked.mark, asked.told, made_at=now(), data=b"nonsense")
    assert look().is_going
    assert work() == 1
    assert look().findings is not None
