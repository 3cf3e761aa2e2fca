"""Routes that were found as bytes and back, to be kept and handed from the planner to the pages; marks of questions.

The mark of a question is made from all that its answer rests on: the terms, what the records say to them, the library
and the program itself. So what was found for a mark is never old.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import cache, lru_cache
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

from lapwright.app import wiring
from lapwright.app.kept_results import Itself
from lapwright.model.plan import Plan

if TYPE_CHECKING:
    from collections.abc import Callable

    from lapwright.library import Library
    from lapwright.model.order import Order
    from lapwright.process.planning import Searched
    from lapwright.process.route_limits import Remedy, Sensitivity
    from lapwright.process.route_making import Question
    from lapwright.process.stages import Setting

#: Packages whose text decides what a search finds.
_DECIDING = ("process", "metrology", "library", "model")
_NO_PLAN = frozenset({"rates", "risks"})  # of a question: functions, told by what they are made from
MOST_READY = 64  # findings unpacked in memory

_ready: dict[str, Findings] = {}
_lock = Lock()


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """What a search found: the routes, what would raise the chance of the best one, and what its chance hangs on.

    `by_hand` is the first on offer as it is when it is set by hand. The last three are empty where only the best route
    was asked for.
    """

    searched: Searched
    remedies: tuple[Remedy, ...] = ()
    sensitivities: tuple[Sensitivity, ...] = ()
    by_hand: Plan | None = None


def mark_of(order: Order, library: Library, question: Question, *further: object) -> str:
    """The mark of a question; who ordered it, how many and by when does not matter to it.

    `further` is what the rates and risks of the question are made from, and whatever else is asked.
    """
    from lapwright.records.coding import to_plain

    anyones = replace(order, order_id="", customer="", quantity=1, spares=0, due=None, notes="")
    told = {
        "order": to_plain(anyones),
        "question": {one.name: to_plain(getattr(question, one.name)) for one in fields(question)
                     if one.name not in _NO_PLAN},
        "further": to_plain(further),
        "library": _library_mark(Itself(library)),
        "program": _program_mark(),
    }  # fmt: skip
    return hashlib.sha256(json.dumps(told, sort_keys=True, default=str).encode()).hexdigest()


def packed(found: Findings) -> bytes:
    """What was found as bytes, without the setting, which follows from the question."""
    rows: list[str] = []
    searched = found.searched
    told = [searched.routes, searched.weighed, searched.front, searched.seed, found.remedies, found.sensitivities]
    whole = _plain([*told, found.by_hand], rows, {})
    return zlib.compress(f"[[{','.join(rows)}],{json.dumps(whole)}]".encode(), 6)


def unpacked(data: bytes, setting: Setting) -> Findings | None:
    """What `packed` made bytes of; None for no bytes, or those of another version of the program."""
    from lapwright.process.planning import Searched

    if not data:
        return None
    try:
        rows, whole = json.loads(zlib.decompress(data))
        made: list[Any] = []
        kinds = _kinds()
        for name, values in rows:
            made.append(kinds[name](**{key: _value(one, made) for key, one in values.items()}))
        routes, weighed, front, seed, remedies, sensitivities, by_hand = _value(whole, made)
    except (zlib.error, ValueError, TypeError, KeyError, IndexError):
        return None
    searched = Searched(routes=routes, setting=setting, weighed=weighed, front=front, seed=seed)
    return Findings(searched=searched, remedies=remedies, sensitivities=sensitivities, by_hand=by_hand)


def kept(mark: str, setting: Callable[[], Setting]) -> Findings | None:
    """What was found before for the very same question; None for nothing, and where no pages are served."""
    if not wiring.is_serving():
        return None
    with _lock:
        ready = _ready.get(mark)
    if ready is not None:
        return ready
    from lapwright.records import route_searches

    found = unpacked(route_searches.data_of(mark), setting())
    if found is not None:
        with _lock:
            _ready[mark] = found
            while len(_ready) > MOST_READY:
                _ready.pop(next(iter(_ready)))
    return found


# ----------------------------------------------------------------------------------------------------------------------


def _plain(value: object, rows: list[str], known: dict[str, int]) -> Any:
    """A value as JSON takes it: each dataclass a row of its own, once however often it is in there."""
    if is_dataclass(value):
        values = {one.name: _plain(getattr(value, one.name), rows, known) for one in fields(value)}
        row = json.dumps([type(value).__name__, values])
        if row not in known:
            known[row] = len(rows)
            rows.append(row)
        return {"row": known[row]}
    if isinstance(value, tuple | list):
        return [_plain(one, rows, known) for one in value]
    if isinstance(value, dict):
        return {"pairs": [[key, _plain(one, rows, known)] for key, one in value.items()]}
    return value


def _value(plain: Any, made: list[Any]) -> Any:
    if isinstance(plain, list):
        return tuple(_value(one, made) for one in plain)
    if isinstance(plain, dict):
        if "row" in plain:
            return made[plain["row"]]
        return {key: _value(one, made) for key, one in plain["pairs"]}
    return plain


@cache
def _kinds() -> dict[str, type]:
    """Every dataclass that a route can hold, by its name."""
    from lapwright.library import rows
    from lapwright.model import plan
    from lapwright.process import (
        budget,
        candidates,
        chance,
        damage,
        kinematics,
        ledger,
        planning,
        removal,
        route_limits,
        route_making,
        search,
        stages,
        workplaces,
    )

    modules = (rows, plan, budget, candidates, chance, damage, kinematics, ledger, planning, removal, route_limits,
               route_making, search, stages, workplaces)  # fmt: skip
    return {
        name: kind
        for module in modules
        for name, kind in vars(module).items()
        if isinstance(kind, type) and is_dataclass(kind)
    }


@lru_cache(maxsize=4)
def _library_mark(library: Itself) -> str:
    return hashlib.sha256(repr(library.held).encode()).hexdigest()


@cache
def _program_mark() -> str:
    """Of all that decides what a search finds, so that another version of the program searches anew."""
    root, mark = Path(__file__).parents[1], hashlib.sha256()
    for package in _DECIDING:
        for path in sorted((root / package).rglob("*.py")):
            mark.update(path.read_bytes())
    return mark.hexdigest()
