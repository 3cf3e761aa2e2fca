"""The program itself as somebody watches over it: what was looked at, and how the records stand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

CheckVerdict = Literal["good", "look", "wrong"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgramCheck:
    """One thing looked at.

    Attributes
    ----------
    name : what was looked at
    verdict : good; look, when it goes on but not for long or not safely; wrong, when work is lost or not possible
    sentence : what was found, and what was expected
    advice : what to do; empty when nothing
    """

    name: str
    verdict: CheckVerdict
    sentence: str
    advice: str = ""

    @property
    def is_good(self) -> bool:
        """Whether there is nothing to do."""
        return self.verdict == "good"


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordsState:
    """How the records stand.

    Attributes
    ----------
    kind, server : sqlite or postgresql; the server in its own words
    schema : name of the last change of the tables
    size : of the database [bytes]
    links : links of the audit chain
    last_write : when the last link was written; None without one
    written : rows ever written, by what they are
    orders : orders on record
    wafers : number of wafers by state
    runs_going : runs under a recorder
    requests_waiting : requests that no recorder has answered
    """

    kind: str
    server: str
    schema: str
    size: int
    links: int
    last_write: datetime | None
    written: Mapping[str, int] = field(default_factory=dict)
    orders: int = 0
    wafers: Mapping[str, int] = field(default_factory=dict)
    runs_going: int = 0
    requests_waiting: int = 0
