"""Which right each address needs. What is not named here nobody but an admin may write to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from lapwright.model.access import Right

SAFE = ("GET", "HEAD", "OPTIONS")
#: Addresses that anybody may ask for: they show nothing of the records.
OPEN = ("login", "health", "answer_given")
#: Addresses that only show, but what is shown is the form of a deed, or is nobody else's business.
TO_SEE: dict[str, Right] = {"order_new": "plan", "order_change": "plan", "intake": "plan", "people": "administer"}
#: Addresses that write, and the computing ones of the API, which write nothing.
TO_WRITE: dict[str, Right] = {
    "who": "see",
    "logout": "see",
    "account": "see",
    "people": "administer",
    "order_new": "plan",
    "order_change": "plan",
    "order_outlook": "plan",
    "intake": "plan",
    "intake_look": "plan",
    "add_note": "measure",
    "issue_certificate": "approve",
    "sign_certificate": "approve",
    "route": "plan",
    "quotation": "plan",
    "readings": "measure",
    "take": "measure",
    "take_many": "measure",
    "wafer_note": "measure",
    "photograph": "measure",
    "close_set": "measure",
    "void_set": "measure",
    "station_zero": "run",
    "station_setup": "run",
    "station_start": "run",
    "station_weigh": "run",
    "station_stop": "run",
    "station_gauge": "administer",
    "surfaces": "measure",
    "profiles": "measure",
    "surface": "measure",
    "profile": "measure",
    "study": "measure",
    "study_end": "plan",
    "board": "plan",
    "board_shop": "plan",
    "plates": "plan",
    "plate_map": "measure",
    "prices": "plan",
    "shelf": "measure",
    "lot": "measure",
    "lot_take": "measure",
    "lot_rename": "measure",
    "changeover": "run",
    "handovers": "measure",
    "handover_taken": "measure",
    "bond_line": "measure",
    "bond_photo": "measure",
    "tilt": "run",
    "code": "see",
    "recipes": "plan",
    "recipe": "plan",
    "recipe_approve": "approve",
    "practice": "see",
    "practice_stop": "see",
    "practice_answer": "see",
    "api:thickness": "see",
    "api:bond": "see",
    "api:jig": "see",
    "api:route": "see",
}
#: Deeds done to a wafer, a plate or a gauge, and what is decided about a wafer, by name.
DEEDS: dict[str, Mapping[str, Right]] = {
    "room_enter": {"gauge": "plan", "carriers": "measure", "jig": "plan", "station": "run"},
    "do": {
        "bond": "measure", "judge-bond": "measure", "decide-bond": "run", "zero": "run", "start": "run",
        "finish": "run", "complete": "run", "skip": "plan", "debond": "run", "finding": "measure", "judge": "measure",
        "set-aside": "measure", "take-up": "measure", "reject": "approve",
    },
    "plate_do": {"check": "measure", "sagitta": "measure", "ring": "run", "dressed": "run"},
    "odd_decide": {
        "read_again": "measure", "rework": "plan", "spare": "plan", "ask_customer": "plan",
        "customer_accepts": "approve", "scrap": "approve",
    },
    "gauge_do": {"check": "measure", "standard": "plan", "calibrate": "plan", "policy": "approve", "plan": "plan"},
}  # fmt: skip


def needed(name: str, method: str, given: Mapping[str, object]) -> Right:
    """The right that a request needs: by the name of its address, its method, and the deed in it."""
    if method in SAFE:
        return TO_SEE.get(name, "see")
    if name in DEEDS:
        deed = str(next((given[word] for word in ("name", "deed", "choice", "kind") if given.get(word)), ""))
        return DEEDS[name].get(deed, "administer")
    return TO_WRITE.get(name, "administer")


def words(rights: Iterable[Right]) -> dict[str, bool]:
    """Rights for a template: `may.plan` is true or missing."""
    return dict.fromkeys(rights, True)
