"""The Board beside the pages: shown as last worked out, asked for anew, made by one planner at a time."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from lapwright.app import orders, queue, queue_drafts, queue_kept, queue_planner, queue_settings, routes, wiring
from lapwright.app.queue import BoardQuestion
from lapwright.app.queue_kept import Sought
from lapwright.errors import BadInput
from lapwright.model.board import BoardPlace
from lapwright.testing.board_shop import PLAN

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
LATER = timedelta(hours=1)
SOUGHT = Sought(at=NOW, is_now=True)


@pytest.fixture
def served(lot, monkeypatch):
    """An order with a route in a process that serves pages, and nobody at work beside it until a test says so."""
    monkeypatch.setattr(queue, "WORK", 0.2)
    monkeypatch.setattr(queue, "WALL", 20.0)
    routes.choose_route("AP-1", PLAN, **lot.why())
    monkeypatch.setattr(wiring, "_serving", True)
    monkeypatch.setattr(queue_planner, "wake", lambda: None)
    return lot


def look(question=None, *, at=NOW):
    """What a page is shown an hour later, when the planner has rested."""
    return queue_drafts.look(Sought(at=at, question=question, is_now=question is None), NOW + LATER)


def put_place(lot, name):
    """Something that a schedule rests on."""
    queue_settings.put_place(BoardPlace(place_id=name, kind="bond"), **lot.why())


def test_a_page_gets_what_there_is_and_the_planner_makes_the_next(served):
    """None yet, then the first; a note leaves it current, a place makes it old but it stays in sight."""
    assert (look().board, look().is_planned) == (None, True)
    assert queue_planner.work_through() == 1
    first = look()
    assert first.is_current
    assert first.board == queue.board(NOW)

    orders.add_note("AP-1", "Looked at.", by="local", reason="word", at=NOW)
    assert look().is_current
    put_place(served, "B9")
    old = look()
    assert (old.board, old.is_current, old.is_planned, old.since["boardsetting"]) == (first.board, False, True, 1)
    queue_planner.work_through()
    assert "B9" in {place.place_id for place in look().board.now.places}
    assert look().is_current


def test_a_new_moment_makes_it_old_and_only_time_has_passed(served):  # noqa: ARG001  the records it furnished
    """Five minutes later it is asked for anew, and nothing is said to have been recorded."""
    look()
    queue_planner.work_through()
    later = look(at=NOW + timedelta(minutes=5))
    assert (later.is_current, later.is_planned, dict(later.since)) == (False, True, {})


def test_the_planner_works_half_of_the_time_at_most(served):
    """For as long as the last plan took nothing is asked for anew, however much is recorded."""
    look()
    queue_planner.work_through()
    put_place(served, "B9")
    made, took = look().draft.made_at, look().draft.took
    from lapwright.records import board_drafts

    board_drafts.put(
        "", moment=NOW, written=0, made_at=made, took=took, data=None, refusal={"code": "x", "sentence": "."}
    )
    assert not queue_drafts.look(SOUGHT, made + timedelta(seconds=0.5 * took)).is_planned
    assert queue_drafts.look(SOUGHT, made + timedelta(seconds=1.5 * took)).is_planned


def test_one_planner_at_a_time_and_a_silent_one_is_replaced(served):  # noqa: ARG001  the records it furnished
    """Whoever said lately that it lives is let alone; after a quarter of a minute of silence its draft begins anew."""
    from lapwright.records import board_drafts

    look()
    now = datetime.now(UTC)
    long_ago = now - timedelta(seconds=queue_planner.LOST)
    assert board_drafts.claim("elsewhere:1", at=now, lost_before=long_ago)
    assert not board_drafts.claim("elsewhere:2", at=now, lost_before=long_ago)
    board_drafts.begin("", 1, now)
    assert queue_planner.work_through() == 0
    assert board_drafts.beat("elsewhere:1", now - timedelta(seconds=queue_planner.LOST + 1.0))
    assert queue_planner.work_through() == 1
    assert not board_drafts.beat("elsewhere:1", now)
    assert look().is_current


def test_what_kills_its_planner_is_given_up_and_tried_again_later(served):  # noqa: ARG001  the records it furnished
    """Begun three times without an end it is left; five minutes later it is wanted once more."""
    from lapwright.records import board_drafts

    look()
    board_drafts.begin("", queue_planner.MOST_TRIES, NOW)
    board_drafts.claim("elsewhere:1", at=NOW, lost_before=NOW)
    assert queue_drafts.look(SOUGHT, NOW + LATER).is_given_up
    assert board_drafts.next_wanted(most_tries=queue_planner.MOST_TRIES) is None
    assert queue_drafts.look(SOUGHT, NOW + 2 * LATER).is_planned
    assert queue_planner.work_through() == 1


def test_a_board_comes_back_as_it_was_kept(served):  # noqa: ARG001  the records it furnished
    """Whole, with its questions; bytes of something else are no Board."""
    board = queue.propose(BoardQuestion(down=("L1", NOW, NOW + LATER, "belt")), NOW)
    assert queue_kept.unpacked(queue_kept.packed(board)) == board
    assert queue_kept.question_of(queue_kept.question_plain(board.question)) == board.question
    assert queue_kept.unpacked(b"") is None
    assert queue_kept.unpacked(b"cheese") is None


def test_what_is_accepted_is_what_was_shown_and_stands_at_once(served):
    """Nothing is planned for it again; with a place recorded in between it stands, too, and is said to be old."""
    for between in (False, True):
        look()
        queue_planner.work_through()
        shown = queue_drafts.kept(SOUGHT, NOW)
        if between:
            put_place(served, "B9")
        force = shown.board.in_force
        more = {"by": "local", "reason": "week ahead", "now": NOW, "proposal": shown.board}
        recorded = queue.accept(BoardQuestion(), NOW, seen=None if force is None else force.plan_id, **more)
        queue_drafts.keep_accepted(shown, recorded, NOW + timedelta(minutes=recorded.plan_id))
        stands = look()
        assert stands.board.in_force.plan_id == recorded.plan_id
        assert stands.board.tasks == shown.board.tasks == recorded.plan.tasks
        assert stands.is_current is not between
        assert not stands.board.changes


def test_a_question_that_cannot_be_answered_says_why(served):  # noqa: ARG001  the records it furnished
    """The fault with its field comes back from beside the pages; a good question is answered."""
    wrong, right = BoardQuestion(first="AP-9"), BoardQuestion(first="AP-1")
    assert look(wrong).is_planned
    assert look(right).is_planned
    assert queue_planner.work_through() == 2
    refusal = look(wrong).refusal
    assert isinstance(refusal, BadInput)
    assert [one.field for one in refusal.faults] == ["first"]
    assert look(right).board.question == right
    with pytest.raises(BadInput, match="AP-9"):
        queue_drafts.awaited(Sought(at=NOW, question=wrong), NOW)


def test_few_answers_are_kept(served):  # noqa: ARG001  the records it furnished
    """The ones asked for least lately go; the schedule that stands does not."""
    from lapwright.records import board_drafts
    from lapwright.records.models import BoardDraft

    look()
    for number in range(board_drafts.MOST_ANSWERS + 3):
        asked = replace(SOUGHT, question=BoardQuestion(first=str(number)))
        queue_drafts.look(asked, NOW + timedelta(seconds=number))
    assert BoardDraft.objects.count() == board_drafts.MOST_ANSWERS + 1
    assert board_drafts.draft("") is not None
