"""What is said of the records as evidence: whether the chain holds, and what an archive recomputes to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

FaultKind = Literal[
    "altered", "removed", "added", "link_missing", "link_moved", "link_altered", "end_removed", "rewritten", "no_anchor"
]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainFault:
    """One thing that is not as the chain tells: the table and key of the row, and a sentence."""

    kind: FaultKind
    table: str
    row: int | None = None
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainReport:
    """What a look at the whole chain found: counts, its last link, and every fault."""

    links: int
    rows: int
    anchors: int
    last_number: int
    last_digest: str
    faults: tuple[ChainFault, ...]

    @property
    def holds(self) -> bool:
        """Whether nothing is wrong."""
        return not self.faults


@dataclass(frozen=True, slots=True, kw_only=True)
class CopiedTable:
    """A table that was copied: how many rows, and the SHA-256 over the digests of all of them."""

    table: str
    rows: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Recomputed:
    """One number of an archive: as it was certified, as it comes out now [SI], and whether the two agree."""

    name: str
    told: float | None
    found: float | None
    agrees: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ArchiveReport:
    """What an archive came to when it was recomputed: its numbers, and what is wrong with the archive itself.

    `tolerance` is the difference allowed, relative or in SI: 0 on the platform it was written on, 1e-12 elsewhere.
    """

    wafers: tuple[str, ...]
    written_by: str
    platform_same: bool
    tolerance: float
    numbers: tuple[Recomputed, ...]
    faults: tuple[str, ...]

    @property
    def agrees(self) -> bool:
        """Whether every number came out again and nothing else is wrong."""
        return not self.faults and all(one.agrees for one in self.numbers)
