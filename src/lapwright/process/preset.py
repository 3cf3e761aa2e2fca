"""The number to dial in: gauge travel from a named zero to the asked stop; and whether that zero may be trusted.

Over-removal cannot be undone, so every allowance makes the preset smaller.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from lapwright.errors import BadInput, Fault, OutOfValidRange, TooFewSites
from lapwright.model.plan import PresetDatum
from lapwright.process.words import micrometres

ZeroEvent = Literal[
    "adjusters_moved", "plate_changed", "abrasive_changed", "foot_changed", "bonded_anew", "gauge_moved"
]

_VOIDING: dict[ZeroEvent, str] = {
    "adjusters_moved": "Adjusters were moved, so the wafer stands differently to the foot",
    "plate_changed": "The plate was changed, so the foot rides on another surface",
    "abrasive_changed": "The abrasive was changed, so the film under the foot is another",
    "foot_changed": "The foot was changed, so the gauge measures from another height",
    "bonded_anew": "The wafer was bonded anew, so its stack has another height",
    "gauge_moved": "The gauge was moved or its battery changed, so its zero is another",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Heights:
    """Heights that a preset from a zero needs [m], all from one reference (the carrier's back, say).

    `contact` is the height at which wafer and plate first touch; `target` that of the worked face at the centre when
    the stage is done; `block` the height of a reference block on which the zero is taken.
    """

    target: float
    contact: float | None = None
    block: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Preset:
    """Gauge travel from the named zero to the asked stop [m], and what it is made of."""

    travel: float
    datum: PresetDatum
    contains: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ZeroCheck:
    """Whether a zero may be used: spread of its readings [m], shift from the one expected [m], and why."""

    accepted: bool
    zero: float
    spread: float
    shift: float | None
    reason: str


def preset_travel(
    datum: PresetDatum, *, allowance: float, removal: float | None = None, heights: Heights | None = None
) -> Preset:
    r"""Gauge travel from a named zero to the stop.

    Parameters
    ----------
    datum : 'first_touch', 'conforming' or 'reference_block'
        Where the zero was taken: wafer just touching the plate, wafer lapped in over its whole face, or a block.
    allowance : float [m]
        What is left for lag and run-down of the stop, zero or more.
    removal : float [m], optional
        Removal wanted at the centre; needed for a conforming face.
    heights : Heights, optional
        Needed for the other two.

    Returns
    -------
    Preset
        Its parts add up to the travel.

    Raises
    ------
    BadInput
        A part that the datum needs is missing, or nothing is left to travel.
    OutOfValidRange
        A negative allowance.

    Notes
    -----
    .. math:: P_\mathrm{first\ touch} = h_\mathrm{contact} - h_\mathrm{target} - a, \quad
        P_\mathrm{conforming} = r - a, \quad P_\mathrm{block} = h_\mathrm{block} - h_\mathrm{target} - a

    A wafer with a wedge W touches with its thick edge first: contact height = centre + W/2, so the preset from first
    touch is larger than the removal at the centre by W/2.

    Examples
    --------
    >>> round(preset_travel("conforming", removal=30e-6, allowance=2e-6).travel * 1e6, 3)
    28.0
    """
    if not allowance >= 0.0:
        raise OutOfValidRange("allowance", allowance, "zero or more [m]")
    parts = (*_parts(datum, removal, heights), ("allowance for lag and run-down", -allowance))
    travel = math.fsum(length for _, length in parts)
    if datum != "reference_block" and not travel > 0.0:
        sentence = (
            f"Nothing is left to travel: the parts of the preset add up to {micrometres(travel)}. "
            "Take a smaller allowance, or finish this stage by time."
        )
        raise BadInput([Fault(sentence=sentence, field="allowance")], subject="The preset")
    return Preset(travel=travel, datum=datum, contains=parts)


def zero_guard(
    readings: Sequence[float], *, spread_limit: float, expected: float | None = None, shift_limit: float | None = None
) -> ZeroCheck:
    """Whether the zero of the jig's gauge may be used, from at least three readings with the foot lifted between.

    Parameters
    ----------
    readings : sequence of float [m]
        Three or more.
    spread_limit : float [m]
        Largest accepted difference between them.
    expected : float [m], optional
        The zero that plate and foot gave before, foot wear taken off. None when there is none.
    shift_limit : float [m], optional
        Largest accepted distance from `expected`; `spread_limit` when not given.

    Returns
    -------
    ZeroCheck
        `zero` is the median; when not accepted, `reason` says what to do.

    Raises
    ------
    TooFewSites
        Fewer than three readings.
    BadInput
        A reading that is no number.
    OutOfValidRange
        A limit not above zero.

    Notes
    -----
    A film of slurry under the foot that is squeezed out between readings shows as spread; one that stays shows only
    against the zero expected. Both are refused.

    Examples
    --------
    >>> zero_guard([0.0, 0.3e-6, 4.1e-6], spread_limit=1e-6).accepted
    False
    """
    if len(readings) < 3:
        raise TooFewSites("A zero", measured=len(readings), needed=3)
    _need_numbers(readings)
    limit = spread_limit if shift_limit is None else shift_limit
    for name, value in (("spread_limit", spread_limit), ("shift_limit", limit)):
        if not value > 0.0:
            raise OutOfValidRange(name, value, "more than zero [m]")
    spread = max(readings) - min(readings)
    zero = _median(readings)
    shift = None if expected is None else zero - expected
    refused = _refusal(spread, spread_limit, shift, limit)
    reason = refused or f"The readings lie within {micrometres(spread)} of each other."
    return ZeroCheck(accepted=refused is None, zero=zero, spread=spread, shift=shift, reason=reason)


def voided_by(events: Sequence[ZeroEvent]) -> tuple[str, ...]:
    """Why zero and preset no longer hold, one sentence for each thing that happened; empty when they hold.

    Parameters
    ----------
    events : sequence of str
        Any of adjusters_moved, plate_changed, abrasive_changed, foot_changed, bonded_anew, gauge_moved.

    Returns
    -------
    tuple of str

    Raises
    ------
    BadInput
        An event that is not known.

    Examples
    --------
    >>> len(voided_by(["adjusters_moved"]))
    1
    """
    unknown = [event for event in events if event not in _VOIDING]
    if unknown:
        known = ", ".join(_VOIDING)
        raise BadInput([Fault(sentence=f"{event!r} is none of {known}.", field="events") for event in unknown])
    return tuple(f"{_VOIDING[event]}: zero and preset are void; take the zero anew." for event in events)


# ----------------------------------------------------------------------------------------------------------------------


def _parts(datum: PresetDatum, removal: float | None, heights: Heights | None) -> tuple[tuple[str, float], ...]:
    if datum == "conforming":
        if removal is None:
            raise _missing("removal", datum)
        return (("removal at the centre", removal),)
    if heights is None:
        raise _missing("heights", datum)
    start, name = (heights.contact, "contact") if datum == "first_touch" else (heights.block, "block")
    if start is None:
        raise _missing(name, datum)
    return ((f"height of the {name}", start), ("height wanted at the centre", -heights.target))


def _missing(name: str, datum: PresetDatum) -> BadInput:
    sentence = f"A preset from the zero '{datum}' needs {name}; none was given."
    return BadInput([Fault(sentence=sentence, field=name)], subject="The preset")


def _need_numbers(readings: Sequence[float]) -> None:
    faults = [
        Fault(sentence=f"Zero reading {row} is no number. Read it again.", row=row, field="readings")
        for row, reading in enumerate(readings, 1)
        if not math.isfinite(reading)
    ]
    if faults:
        raise BadInput(faults, subject="The zero")


def _median(readings: Sequence[float]) -> float:
    ordered = sorted(readings)
    middle = len(ordered) // 2
    return ordered[middle] if len(ordered) % 2 else 0.5 * (ordered[middle - 1] + ordered[middle])


def _refusal(spread: float, spread_limit: float, shift: float | None, shift_limit: float) -> str | None:
    advice = "Wipe foot and plate dry, look for slurry or grit under the foot, and take the zero again."
    if spread > spread_limit:
        return f"The readings differ by {micrometres(spread)} (limit {micrometres(spread_limit)}). {advice}"
    if shift is not None and abs(shift) > shift_limit:
        return (
            f"The zero lies {micrometres(shift)} from the one expected (limit {micrometres(shift_limit)}). {advice} "
            "If the foot is worn, record that first."
        )
    return None
