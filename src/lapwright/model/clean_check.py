"""A look whether a wafer and all around it are clean enough for what comes next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from lapwright.model.job import RecordedStage
from lapwright.model.readings import Signature

#: What was found: clean, not clean (the step waits), or gone on with although it was not shown to be clean.
LookOutcome = Literal["clean", "not_clean", "overruled"]
#: What is looked at, in the order in which it is done.
CleanItem = Literal["rinsed", "rim", "jig", "bench", "gloves", "looked"]
CLEAN_ITEMS: tuple[CleanItem, ...] = ("rinsed", "rim", "jig", "bench", "gloves", "looked")


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedLook:
    """One look as recorded: what was ticked, what was found, the photograph kept with it."""

    look_id: int
    stage_id: int
    outcome: LookOutcome
    checked: tuple[CleanItem, ...]
    document_id: int | None
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class LookDue:
    """A cleaning stage that ends with a look: the abrasive before it, the one after, and the looks so far.

    `after` is empty where no more is worked: the wafer is then released to be measured and taken off.
    """

    stage: RecordedStage
    before: str
    after: str
    looks: tuple[RecordedLook, ...]
