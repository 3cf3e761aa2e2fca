"""What one test did to the records is brought back in the next that does the same on the same, instead of done again.

The same means: every row that the audit chain tells of is the same. What a test does besides is not remembered.
The workers of one run of tests remember together, in a folder that they share.
"""

from __future__ import annotations

import hashlib
import pickle
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from pathlib import Path
from typing import TypeVar, cast

from lapwright.settings import Settings
from lapwright.testing.records import bring_back, forget_records, keep_records, kept_files, records_digest

_MOST = 200  # states kept; each is a file of about a megabyte
_MOST_SHARED = 200  # of them given to the other workers by each
_T = TypeVar("_T")
_folders: list[Path] = []


def share(folder: Path) -> None:
    """Remember together with other processes of this version of the program that share this folder."""
    folder.mkdir(exist_ok=True)
    _folders[:] = [folder]


class Memory:
    """States of the records by what led to them, the newest used last."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._threads = threading.active_count()
        self._kept: OrderedDict[str, object] = OrderedDict()
        self._shared = 0

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
        if self._is_given(name):
            bring_back(self._settings, name)
            return cast("_T", self._kept[name])
        found = work()
        keep_records(self._settings, name)
        self._keep(name, found)
        self._give(name, found)
        return found

    # ------------------------------------------------------------------------------------------------------------------

    def _keep(self, name: str, found: object) -> None:
        self._kept[name] = found
        if len(self._kept) > _MOST:
            forget_records(self._settings, self._kept.popitem(last=False)[0])

    def _give(self, name: str, found: object) -> None:
        """To the other workers: the files by links, and last of all what was found, which says that all is there."""
        if not _folders or self._shared == _MOST_SHARED:
            return
        self._shared += 1
        written = pickle.dumps(found)
        place = _folders[0] / name
        try:
            place.mkdir()
        except FileExistsError:  # another worker was sooner
            return
        for path in kept_files(self._settings, name):
            if path.exists():
                (place / path.name).hardlink_to(path)
        (place / "coming").write_bytes(written)
        (place / "coming").rename(place / "found")

    def _is_given(self, name: str) -> bool:
        """Whether another worker has done it; it is then kept here, too."""
        if not _folders or not (_folders[0] / name / "found").exists():
            return False
        place = _folders[0] / name
        for path in kept_files(self._settings, name):
            path.unlink(missing_ok=True)
            if (place / path.name).exists():
                path.hardlink_to(place / path.name)
        self._keep(name, pickle.loads((place / "found").read_bytes()))  # noqa: S301  our own, of this run
        return True
