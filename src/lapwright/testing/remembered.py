"""What one test did to the records is brought back in the next that does the same on the same, instead of done again.

The same means: every row that the audit chain tells of is the same. What a test does besides is not remembered.
"""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import TypeVar, cast

from lapwright.settings import Settings
from lapwright.testing.records import bring_back, forget_records, keep_records, records_digest

_MOST = 200  # states kept; each is a file of about a megabyte
_T = TypeVar("_T")


class Memory:
    """States of the records by what led to them, the newest used last."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._threads = threading.active_count()
        self._kept: OrderedDict[str, object] = OrderedDict()

    def done(self, asked: Hashable, work: Callable[[], _T]) -> _T:
        """What `work` gives for what was asked, done or remembered. `asked` says by its `repr` all that counts.

        Nothing is remembered while another thread may have the database open.
        """
        if threading.active_count() != self._threads:
            return work()
        name = hashlib.sha256(f"{records_digest()} {asked!r}".encode()).hexdigest()[:24]
        if name in self._kept:
            self._kept.move_to_end(name)
            bring_back(self._settings, name)
            return cast("_T", self._kept[name])  # kept by the same work
        found = work()
        keep_records(self._settings, name)
        self._kept[name] = found
        if len(self._kept) > _MOST:
            forget_records(self._settings, self._kept.popitem(last=False)[0])
        return found
