"""The one shape of every JSON answer: one line, results with warnings, or a failure with all its faults."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from typing import Any

from lapwright.errors import Fault, LapwrightError

Result = Mapping[str, Any]


def success(result: Result, warnings: Sequence[Mapping[str, Any]] = ()) -> dict[str, Any]:
    """The answer to a question that could be answered; bad news about a part is such an answer."""
    return {"ok": True, "result": result, "warnings": list(warnings)}


def failure(error: LapwrightError) -> dict[str, Any]:
    """The answer to a wrong question, or to one that cannot be answered."""
    return {
        "ok": False,
        "code": error.code,
        "error": error.sentence,
        "errors": [fault_dict(fault) for fault in error.faults] or [fault_dict(Fault(sentence=error.sentence))],
    }


def fault_dict(fault: Fault) -> dict[str, Any]:
    """One fault with its place; what is not known is null."""
    return {
        "row": fault.row,
        "field": fault.field,
        "unit": fault.unit,
        "sentence": fault.sentence,
        "code": fault.code,
    }


def warning_dict(code: str, sentence: str, **about: object) -> dict[str, Any]:
    """One warning: a stable code, a sentence, and what it is about (`wafer`, …)."""
    return {"code": code, "sentence": sentence, **about}


def one_line(answer: Result) -> str:
    """An answer as one line of JSON, without the line end; NaN and infinities become null."""
    try:
        return _ENCODER.encode(answer)
    except (ValueError, TypeError):  # a NaN, or a key of another kind
        return _ENCODER.encode(_plain(answer))


# ----------------------------------------------------------------------------------------------------------------------


def _plain(value: Any) -> Any:
    """Nested values as JSON knows them."""
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    if hasattr(value, "tolist"):
        return _plain(value.tolist())
    if value is None or isinstance(value, bool | int | str):
        return value
    return str(value)


_ENCODER = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(", ", ": "), default=_plain)
