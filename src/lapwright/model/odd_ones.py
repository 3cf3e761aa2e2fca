"""Wafers that do not keep their limits, or cannot be shown to, and what was decided about them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from lapwright.model.job import RecordedDocument, RecordedVerdict, RecordedWafer
from lapwright.model.readings import Signature

#: What can be decided. An accepted one goes with the certificate; one that waits or is worked again does not.
OddChoice = Literal["rework", "read_again", "spare", "ask_customer", "customer_accepts", "scrap"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedDecision:
    """What somebody decided about a wafer; `failed` names the limits that spoke against it then."""

    decision_id: int
    wafer_id: str
    choice: OddChoice
    failed: tuple[str, ...]
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class OddWafer:
    """A wafer that waits for a decision or had one: its standing verdicts, photographs and decisions, oldest first.

    `stopped` is who set it aside or ended the work on it, and why; None while it stands among the judged.
    """

    wafer: RecordedWafer
    verdicts: tuple[RecordedVerdict, ...]
    photographs: tuple[RecordedDocument, ...]
    decisions: tuple[RecordedDecision, ...]
    stopped: Signature | None

    @property
    def failed(self) -> tuple[RecordedVerdict, ...]:
        """The standing verdicts that do not let it go."""
        return tuple(one for one in self.verdicts if one.verdict.outcome != "conforms")

    @property
    def decision(self) -> RecordedDecision | None:
        """The latest decision, if it was made after the standing verdicts; a new verdict asks for a new one."""
        if not self.decisions:
            return None
        judged = max((one.signature.at for one in self.verdicts), default=None)
        latest = self.decisions[-1]
        return latest if judged is None or latest.signature.at >= judged else None

    @property
    def is_waiting(self) -> bool:
        """Whether nothing is decided about it yet."""
        return self.wafer.state == "judged" and bool(self.failed) and self.decision is None
