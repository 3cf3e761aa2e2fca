"""A Board as the one dictionary that the command and the API give."""

from __future__ import annotations

from typing import Any

from lapwright.app.queue import Board, BoardChange
from lapwright.app.queue_drafts import Seen
from lapwright.app.queue_words import reasons, standing


def board_result(board: Board) -> dict[str, Any]:
    """The Board with its orders, tasks, places, and what a proposal would change."""
    from lapwright.formats.board_results import (
        held_dict,
        hours_dict,
        moment_text,
        outlook_dict,
        place_dict,
        reached_dict,
        task_dict,
    )

    force = board.in_force
    return {
        "at": moment_text(board.now.at.timestamp()),
        "in_force": None
        if force is None
        else {
            "plan": force.plan_id,
            "accepted_by": force.signature.by,
            "accepted_at": moment_text(force.signature.at.timestamp()),
        },
        "is_proposal": board.scheduled is not None,
        "orders": [
            outlook_dict(
                order_id=one.order_id,
                planned=one.planned,
                due=one.due,
                late=one.late,
                sure=(one.even, one.sure_80, one.sure_90),
                chance=one.chance,
                sentence=standing(one),
                reasons=reasons(board, one) if one.late > 0.0 else (),
            )
            for one in board.orders
        ],
        "tasks": [task_dict(one) for one in board.tasks],
        "places": [place_dict(one) for one in board.now.places],
        "hours": hours_dict(board.now.hours),
        "held": [held_dict(one) for one in board.held],
        "changes": [_change(one) for one in board.changes],
        "search": None if board.scheduled is None else reached_dict(board.scheduled),
        "left_out": [{"order": order_id, "reason": why} for order_id, why in board.now.left_out],
    }


def board_warnings(board: Board) -> list[dict[str, Any]]:
    """What was assumed, and which orders are not planned."""
    from lapwright.formats.json_line import warning_dict

    found = [warning_dict("board.assumed", sentence) for sentence in board.now.assumed]
    found += [warning_dict("board.left_out", f"Order {name} {why}", order=name) for name, why in board.now.left_out]
    if board.in_force is None:
        found.append(warning_dict("board.not_accepted", "Nobody has accepted a schedule yet; this is a proposal."))
    return found


def age_warnings(seen: Seen) -> list[dict[str, Any]]:
    """Of a Board that is not the latest there could be: when it was worked out, and what was recorded since."""
    from lapwright.formats.board_results import moment_text
    from lapwright.formats.json_line import warning_dict

    if seen.is_current or seen.draft is None or seen.draft.made_at is None:
        return []
    made = moment_text(seen.draft.made_at.timestamp())
    rows = None if seen.since is None else sum(seen.since.values())
    count = "many" if rows is None else rows
    sentence = (
        f"This schedule was worked out at {made}. Rows recorded since that it rests on: {count}. The next one is being"
        " worked out; ask with wait=true to have it waited for."
    )
    return [warning_dict("board.old", sentence, made_at=made, rows=rows)]


# ----------------------------------------------------------------------------------------------------------------------


def _change(change: BoardChange) -> dict[str, Any]:
    from lapwright.formats.board_results import task_dict

    return {
        "kind": change.kind,
        "task": change.task_id,
        "order": change.order_id,
        "before": None if change.before is None else task_dict(change.before),
        "after": None if change.after is None else task_dict(change.after),
    }
