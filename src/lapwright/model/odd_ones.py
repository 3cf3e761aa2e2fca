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
        """The decision that holds: the latest, made after the standing verdicts.

        A new verdict asks for a new one, and so does taking up again a wafer that was to be kept or worked again.
        """
        if not self.decisions:
            return None
        latest = self.decisions[-1]
        judged = max((one.signature.at for one in self.verdicts), default=None)
        is_overtaken = judged is not None and latest.signature.at < judged
        is_taken_up = self.wafer.state == "judged" and latest.choice in ("rework", "spare")
        return None if is_overtaken or is_taken_up else latest

    @property
    def may_leave(self) -> bool:
        """Whether it may be certified: it keeps every limit, or its customer accepts it as it is."""
        return not self.failed or (self.decision is not None and self.decision.choice == "customer_accepts")

    @property
    def is_waiting(self) -> bool:
        """Whether nothing is decided about it yet."""
        return self.wafer.state == "judged" and bool(self.failed) and self.decision is None
