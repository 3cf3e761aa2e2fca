"""The steps of a wafer through the job: which state may follow which, and which readings belong to which state.

docs/explanation/the-job.md draws this table. From every state but the last a wafer may be set aside or rejected.
"""

from __future__ import annotations

from lapwright.errors import Conflict
from lapwright.model.job import RecordedWafer, WaferState
from lapwright.model.readings import Moment

#: State -> states that may follow.
STEPS: dict[WaferState, tuple[WaferState, ...]] = {
    "received": ("measured_in",),
    "measured_in": ("bonded",),
    "bonded": ("stack_read",),
    "stack_read": ("ready", "rebond"),
    "rebond": ("measured_in", "ready"),
    "ready": ("in_work", "rebond"),
    "in_work": ("worked",),
    "worked": ("read_on_carrier", "debonded"),
    "read_on_carrier": ("debonded",),
    "debonded": ("read_free",),
    "read_free": ("judged",),
    "judged": ("certified", "read_free"),
    "certified": ("read_free",),
    "set_aside": (),
    "rejected": (),
}
OVER: tuple[WaferState, ...] = ("certified", "rejected")

#: Moment of a set -> the states in which a wafer may be read so.
STATES_OF_MOMENT: dict[Moment, tuple[WaferState, ...]] = {
    "incoming": ("received", "measured_in"),
    "stack": ("bonded", "stack_read", "rebond"),
    "after_stage": ("in_work", "worked"),
    "on_carrier": ("worked", "read_on_carrier"),
    "final": ("debonded", "read_free", "judged", "certified"),
}
#: Moment of a set -> the state that its closing leads to.
STATE_AFTER_MOMENT: dict[Moment, WaferState] = {
    "incoming": "measured_in",
    "stack": "stack_read",
    "on_carrier": "read_on_carrier",
    "final": "read_free",
}
WORDS: dict[WaferState, str] = {
    "received": "received, not yet read",
    "measured_in": "measured in, free",
    "bonded": "bonded, stack not yet read",
    "stack_read": "bonded, stack read",
    "rebond": "to be bonded again",
    "ready": "ready for its first stage",
    "in_work": "in work",
    "worked": "through all stages",
    "read_on_carrier": "read on the carrier",
    "debonded": "off the carrier",
    "read_free": "read free",
    "judged": "judged",
    "certified": "certified",
    "set_aside": "set aside",
    "rejected": "rejected",
}


def need_step(wafer: RecordedWafer, after: WaferState) -> None:
    """Raise `Conflict` when a wafer may not go to a state from where it stands."""
    may = after in STEPS[wafer.state] or (after in ("set_aside", "rejected") and wafer.state not in OVER)
    if not may or wafer.state == after:
        nexts = " or ".join(WORDS[state] for state in STEPS[wafer.state]) or "nothing"
        raise Conflict(
            f"Wafer {wafer.wafer.wafer_id!r} is {WORDS[wafer.state]}; the step to '{WORDS[after]}' does not follow."
            f" Next would be: {nexts}.",
            state=wafer.state,
        )


def need_state(wafer: RecordedWafer, allowed: tuple[WaferState, ...], what: str) -> None:
    """Raise `Conflict` when a wafer is not in one of the states that something needs."""
    if wafer.state not in allowed:
        wanted = " or ".join(WORDS[state] for state in allowed)
        raise Conflict(
            f"{what} needs wafer {wafer.wafer.wafer_id!r} {wanted}; it is {WORDS[wafer.state]}."
            " Do what comes before, or take it up again if it was set aside.",
            state=wafer.state,
        )
