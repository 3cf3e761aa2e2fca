"""A Board as bytes and back, to be kept and handed from the planner to the pages; and a question as plain JSON."""

from __future__ import annotations

import hashlib
import json
import zlib
from dataclasses import dataclass, is_dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from lapwright import errors
from lapwright.app import queue, queue_shop
from lapwright.app.queue import Board, BoardQuestion
from lapwright.errors import BadInput, Fault, LapwrightError, RecordError
from lapwright.model import board, readings
from lapwright.model import queue as queue_kinds
from lapwright.process import queue_measures, queue_words

if TYPE_CHECKING:
    from collections.abc import Mapping

#: Every value that a Board can hold, by its name.
_OWN: dict[str, type] = {
    name: kind
    for module in (board, queue_kinds, readings, queue, queue_shop, queue_measures, queue_words)
    for name, kind in vars(module).items()
    if isinstance(kind, type) and is_dataclass(kind)
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sought:
    """The Board as it stands at a moment, or with a question what would become of it; `is_now`: at no one's moment."""

    at: datetime
    question: BoardQuestion | None = None
    is_now: bool = False

    @property
    def key(self) -> str:
        """The name of its draft."""
        if self.is_now and self.question is None:
            return ""
        told = json.dumps([self.at.timestamp(), question_plain(self.question)], sort_keys=True)
        return hashlib.sha256(told.encode()).hexdigest()


def packed(whole: Board) -> bytes:
    """A Board as bytes."""
    from lapwright.records.coding import to_plain

    plain = to_plain(whole)
    plain["now"]["ran_since"] = list(whole.now.ran_since.items())
    return zlib.compress(json.dumps(plain, separators=(",", ":")).encode(), 6)


def unpacked(data: bytes) -> Board | None:
    """The Board that `packed` made bytes of; None for no bytes, or those of another version of the program."""
    from lapwright.records.coding import TYPES, from_plain

    if not data:
        return None
    try:
        plain = json.loads(zlib.decompress(data))
        since = dict(plain["now"].pop("ran_since"))
        whole: Board = from_plain(plain, {**TYPES, **_OWN})
    except (zlib.error, ValueError, TypeError, KeyError, RecordError):
        return None
    whole.now.ran_since.update(since)
    return whole


def question_plain(question: BoardQuestion | None) -> Any:
    """A question as plain JSON; None for none."""
    from lapwright.records.coding import to_plain

    return to_plain(question)


def question_of(plain: Mapping[str, Any] | None) -> BoardQuestion | None:
    """The question that `question_plain` made JSON of."""
    from lapwright.records.coding import TYPES, from_plain

    if plain is None:
        return None
    question: BoardQuestion = from_plain(plain, {**TYPES, **_OWN})
    return question


def refusal_plain(error: LapwrightError) -> dict[str, Any]:
    """An error as plain JSON, as far as pages and programs tell it."""
    faults = [{"sentence": each.sentence, "field": each.field, "code": each.code} for each in error.faults]
    return {"code": error.code, "sentence": error.sentence, "faults": faults}


def refusal_of(plain: Mapping[str, Any]) -> LapwrightError:
    """The error that `refusal_plain` made JSON of."""
    faults = [Fault(**each) for each in plain.get("faults", ())]
    if plain["code"] == BadInput.code:
        return BadInput(faults or [Fault(sentence=str(plain["sentence"]))], subject="The change")
    kinds = [each for each in vars(errors).values() if isinstance(each, type) and issubclass(each, LapwrightError)]
    kind = next((each for each in kinds if each.code == plain["code"]), LapwrightError)
    found = kind.__new__(kind)
    LapwrightError.__init__(found, str(plain["sentence"]), faults=faults)
    return found
