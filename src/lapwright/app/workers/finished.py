"""Finished chunks in a file, a line of JSON each, so that interrupted work goes on where it stopped."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from lapwright.errors import Conflict, FileFormatError


class Finished:
    """The file of one piece of work. Each line is on the disk before the next chunk counts as finished."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def begin(self, told: dict[str, Any]) -> Iterator[tuple[int, Any]]:
        """The chunks finished before, of the work told.

        A last line that was cut off is dropped. Raises `Conflict` when the file belongs to other work, and
        `FileFormatError` when it is something else.
        """
        head = _head(told)
        if not self._path.exists() or self._path.stat().st_size == 0:
            self._append(head + b"\n")
            return
        content = self._path.read_bytes()
        whole = content.rpartition(b"\n")[0].split(b"\n")
        if whole[0] != head:
            self._refuse(whole[0])
        with self._path.open("r+b") as file:
            file.truncate(content.rfind(b"\n") + 1)
        for row, line in enumerate(whole[1:], start=2):
            yield self._read(line, row)

    def add(self, number: int, result: Any) -> None:
        """Keep a chunk that was just finished."""
        self._append(json.dumps({"chunk": number, "result": result}, ensure_ascii=False).encode() + b"\n")

    # ------------------------------------------------------------------------------------------------------------------

    def _append(self, line: bytes) -> None:
        try:
            with self._path.open("ab") as file:
                file.write(line)
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            sentence = f"Finished work cannot be kept in {self._path}: {error.strerror}. Name another file."
            raise FileFormatError(sentence) from error

    def _read(self, line: bytes, row: int) -> tuple[int, Any]:
        try:
            kept = json.loads(line)
            return int(kept["chunk"]), kept["result"]
        except (ValueError, TypeError, KeyError) as error:
            sentence = f"Line {row} of {self._path} is no finished chunk. Name another file, and the work begins anew."
            raise FileFormatError(sentence) from error

    def _refuse(self, head: bytes) -> None:
        try:
            is_ours = isinstance(json.loads(head), dict) and "work" in json.loads(head)
        except ValueError:
            is_ours = False
        if is_ours:
            raise Conflict(
                f"{self._path} holds finished parts of other work: other records, options or version. Name another "
                "file, or take that one away."
            )
        raise FileFormatError(f"{self._path} holds no finished work. Name a file that is not there yet.")


def _head(told: dict[str, Any]) -> bytes:
    plain = json.dumps(told, sort_keys=True, ensure_ascii=False, default=str)
    return json.dumps({"work": hashlib.sha256(plain.encode()).hexdigest()}).encode()
