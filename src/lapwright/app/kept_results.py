"""Results of closed sets, kept in memory: the same set unchanged gives the same numbers, so it is computed once.

Kept for the object itself, which `records.kept` gives again only while set, order, gauge and calibrations are as they
were; a correction or a new calibration makes another object and another result.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from threading import Lock
from typing import TYPE_CHECKING

from lapwright.model.job import RecordedSet
from lapwright.model.wafer import Frame

if TYPE_CHECKING:
    from lapwright.metrology.thickness import ThicknessResult

MOST_RESULTS = 2000

_results: OrderedDict[tuple[int, Frame], tuple[RecordedSet, ThicknessResult]] = OrderedDict()
_lock = Lock()


def kept_result(recorded: RecordedSet, frame: Frame, compute: Callable[[], ThicknessResult]) -> ThicknessResult:
    """The result of a set in a frame: as kept, else as computed now and kept when the set is closed."""
    key = (id(recorded), frame)
    with _lock:
        known = _results.get(key)
        if known is not None and known[0] is recorded:
            _results.move_to_end(key)
            return known[1]
    result = compute()
    if recorded.state == "closed":
        with _lock:
            _results[key] = (recorded, result)
            while len(_results) > MOST_RESULTS:
                _results.popitem(last=False)
    return result
