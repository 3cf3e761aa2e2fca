"""What is used up: lots of slurry, abrasive, adhesive, solvent and pads, and what was taken of them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from lapwright.errors import BadInput, Fault
from lapwright.model.readings import Signature

SupplyKind = Literal["slurry", "abrasive", "adhesive", "solvent", "pad"]
#: Litre, kilogram, or pieces counted; amounts inside are in m³, kg and pieces.
Measure = Literal["volume", "mass", "count"]
SupplyState = Literal["usable", "held", "used_up"]
#: Between the name of a lot of pads and the number of one of them, as in ``P-22 #3``.
PAD_MARK = " #"


def pad_parts(name: str) -> tuple[str, str]:
    """Lot and number of a pad, the mark with the number; of any other name the whole, and no number.

    Examples
    --------
    >>> pad_parts("P-22 #3"), pad_parts("P-22")
    (('P-22', ' #3'), ('P-22', ''))
    """
    lot, mark, number = name.rpartition(PAD_MARK)
    return (lot, mark + number) if lot else (name, "")


UseKind = Literal["used", "discarded", "counted"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyLot:
    """A lot of something that is used up.

    `item` is the abrasive, adhesive or plate of the library that it is, or a name of the lab's own. `amount` is what
    came, in m³, kg or pieces. `per_bond` is what bonding one wafer takes, None where that is entered by hand. `feed` is
    what a running station takes a second, None where nothing runs off it by itself. `held` says why it may not be used,
    empty when it may. `lead_time` [s] is from the order to the delivery of the next lot.
    """

    lot_id: str
    kind: SupplyKind
    item: str
    measure: Measure
    amount: float
    received: date
    expires: date | None = None
    feed: float | None = None
    lead_time: float = 0.0
    held: str = ""
    per_bond: float | None = None

    def __post_init__(self) -> None:
        faults = [
            Fault(sentence=f"The {word} of a lot is missing. Give it.", field=field)
            for field, word in (("lot_id", "name"), ("item", "item"))
            if not getattr(self, field).strip()
        ]
        if not 0.0 < self.amount < math.inf:
            faults.append(
                Fault(sentence=f"The amount must be more than nothing; found {self.amount:g}.", field="amount")
            )
        if self.feed is not None and not 0.0 <= self.feed < math.inf:
            faults.append(Fault(sentence=f"The feed must be zero or more; found {self.feed:g}.", field="feed"))
        if self.per_bond is not None and not 0.0 <= self.per_bond < math.inf:
            sentence = f"What one bond takes must be zero or more; found {self.per_bond:g}."
            faults.append(Fault(sentence=sentence, field="per_bond"))
        if not 0.0 <= self.lead_time < math.inf:
            faults.append(Fault(sentence="The delivery time must be zero or more.", field="lead_time"))
        if self.expires is not None and self.expires < self.received:
            sentence = (
                f"It expires on {self.expires:%d %b %Y}, before it came on {self.received:%d %b %Y}. Look at both."
            )
            faults.append(Fault(sentence=sentence, field="expires"))
        if faults:
            raise BadInput(faults, subject=f"Lot {self.lot_id}")


@dataclass(frozen=True, slots=True, kw_only=True)
class RunTime:
    """A run that is over, as far as it used something up: where, with which abrasive, and how long it cut [s].

    `lot_id` and `pad_lot_id` are the lots that its station held then, by key; None where a name alone was noted.
    `companions` are the wafers that ran beside the first.
    """

    run_id: int
    order_id: str
    wafer_id: str
    station_id: str
    started: datetime
    abrasive: str
    cut_time: float
    lot_id: str | None = None
    pad_lot_id: str | None = None
    plate_id: str | None = None
    companions: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BondFacts:
    """A bond as far as it used adhesive up: of which wafer, and when."""

    order_id: str
    wafer_id: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedUse:
    """Something taken of a lot by hand, thrown away, or counted anew; `amount` in its own measure.

    For a count it is what was left then.
    """

    use_id: int
    lot_id: str
    kind: UseKind
    amount: float
    signature: Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedLot:
    """A lot with what was taken of it, oldest first."""

    lot: SupplyLot
    uses: tuple[RecordedUse, ...]
    version: int
    signature: Signature
