"""A heating and cooling trace of a bonding: how far the stack lags the setting, how fast it changes, how long it melts.

What counts is the temperature of the stack, not that of the plate under it. An offset is told from lag where the
setting holds still; a rate is the slope of a straight line over a window, so that noise does not count as a rate.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, Fault, OutOfValidRange

RATE_WINDOW = 60.0  # s
OFFSET_TO_NAME = 3.0  # K; a thermocouple and a hot plate agree this well (common practice, no source)
_SETTLED = 300.0  # s; a setting must have stood this long before its offset is read
_TICK = 1e-3  # s; loggers stamp no finer, and differences of stamps are rounded
_STILL = 0.5  # K
_OVER = 1.05  # a plate set to just the limit is not beyond it


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatTrace:
    """What a bonding went through: times [s] from the start, temperatures [K] of the stack, and as set [K] if known."""

    times: tuple[float, ...]
    temperatures: tuple[float, ...]
    settings: tuple[float, ...] | None = None

    def __post_init__(self) -> None:
        faults = []
        count = len(self.times)
        if count < 2:
            faults.append(Fault(sentence=f"The trace has {count} rows; it takes at least 2.", field="time_s"))
        if len(self.temperatures) != count or (self.settings is not None and len(self.settings) != count):
            faults.append(Fault(sentence="Times and temperatures differ in number.", field="temperature_c"))
        for row, (before, after) in enumerate(zip(self.times, self.times[1:], strict=False), 2):
            if not after > before:
                sentence = f"Row {row}: the time {after:g} s does not come after {before:g} s. Sort the rows by time."
                faults.append(Fault(sentence=sentence, row=row, field="time_s"))
        if faults:
            raise BadInput(faults, subject="The heating trace")


@dataclass(frozen=True, slots=True, kw_only=True)
class FastStretch:
    """A stretch that heated or cooled faster than allowed: from, to [s], fastest rate [K/s], signed."""

    start: float
    end: float
    rate: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceVerdict:
    """What a trace says. Temperatures [K], times [s], rates [K/s].

    `offset` is stack minus setting where the setting held still; None where it never did or is not known.
    `rates` are those of the stack at each time; `too_fast` the stretches beyond the limit.
    """

    highest: float
    time_above_melt: float | None
    offset: float | None
    rates: NDArray[np.float64]
    fastest_heating: float
    fastest_cooling: float
    rate_limit: float
    melts: float | None
    too_fast: tuple[FastStretch, ...]
    warnings: tuple[tuple[str, str], ...]


def judged_trace(
    trace: HeatTrace, *, rate_limit: float, melts: float | None = None, least_melted: float = 60.0
) -> TraceVerdict:
    r"""A heating trace against the fastest rate its materials bear and the melting point of the adhesive.

    Parameters
    ----------
    trace : HeatTrace
        Of the stack.
    rate_limit : float [K/s]
        Fastest heating or cooling.
    melts : float, optional [K]
        From here on the adhesive flows.
    least_melted : float [s]
        How long it should.

    Returns
    -------
    TraceVerdict
        Warnings as code and sentence: offset, too fast, too short or never melted.

    Raises
    ------
    OutOfValidRange
        A rate limit not above zero.

    Notes
    -----
    Rate: slope of the least-squares line through the readings within 30 s to either side. Offset: median of stack
    minus setting over readings whose setting has stood within 0.5 K for five minutes.

    Examples
    --------
    >>> times = tuple(60.0 * i for i in range(21))
    >>> trace = HeatTrace(times=times, temperatures=(378.0,) * 21, settings=(393.0,) * 21)
    >>> round(judged_trace(trace, rate_limit=0.05).offset, 1)
    -15.0
    """
    if not rate_limit > 0.0:
        raise OutOfValidRange("rate_limit", rate_limit, "more than zero [K/s]")
    times, stack = np.asarray(trace.times), np.asarray(trace.temperatures)
    rates = _rates(times, stack)
    offset = None if trace.settings is None else _offset(times, stack, np.asarray(trace.settings))
    melted = None if melts is None else _time_above(times, stack, melts)
    fast = _stretches(times, rates, rate_limit)
    return TraceVerdict(
        highest=float(stack.max()),
        time_above_melt=melted,
        offset=offset,
        rates=rates,
        fastest_heating=max(0.0, float(rates.max())),
        fastest_cooling=min(0.0, float(rates.min())),
        rate_limit=rate_limit,
        melts=melts,
        too_fast=fast,
        warnings=(*_offset_words(offset), *_fast_words(fast, rate_limit), *_melt_words(melted, melts, least_melted)),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _rates(times: NDArray[np.float64], stack: NDArray[np.float64]) -> NDArray[np.float64]:
    half = 0.5 * RATE_WINDOW
    first = np.searchsorted(times, times - half, side="left")
    last = np.searchsorted(times, times + half, side="right")
    rates = np.empty_like(stack)
    for number in range(len(times)):
        window = slice(int(first[number]), int(last[number]))
        if window.stop - window.start < 2:  # readings further apart than the window: the line through the neighbours
            window = slice(max(0, number - 1), number + 2)
        t, y = times[window], stack[window]
        t = t - t.mean()
        rates[number] = float(t @ (y - y.mean()) / (t @ t))
    return rates


def _offset(times: NDArray[np.float64], stack: NDArray[np.float64], settings: NDArray[np.float64]) -> float | None:
    since, anchor, settled = times[0], settings[0], []
    for time, setting in zip(times, settings, strict=True):
        if abs(setting - anchor) > _STILL:
            since, anchor = time, setting
        settled.append(time - since >= _SETTLED - _TICK)
    chosen = np.asarray(settled)
    return float(np.median((stack - settings)[chosen])) if chosen.any() else None


def _time_above(times: NDArray[np.float64], stack: NDArray[np.float64], melts: float) -> float:
    """Time above a temperature, crossings by straight lines."""
    total = 0.0
    rows: Sequence[tuple[float, float, float]] = list(zip(np.diff(times), stack, stack[1:], strict=False))
    for step, before, after in rows:
        high, low = max(before, after) - melts, min(before, after) - melts
        if high > 0.0:
            total += step if low >= 0.0 else step * high / (high - low)
    return float(total)


def _stretches(times: NDArray[np.float64], rates: NDArray[np.float64], rate_limit: float) -> tuple[FastStretch, ...]:
    found: list[FastStretch] = []
    start = None
    beyond = np.abs(rates) > rate_limit * _OVER
    for number in range(len(times) + 1):
        inside = number < len(times) and bool(beyond[number])
        if inside and start is None:
            start = number
        elif not inside and start is not None:
            part = rates[start:number]
            worst = float(part[np.argmax(np.abs(part))])
            found.append(FastStretch(start=float(times[start]), end=float(times[number - 1]), rate=worst))
            start = None
    return tuple(found)


def _offset_words(offset: float | None) -> list[tuple[str, str]]:
    if offset is None or abs(offset) < OFFSET_TO_NAME:
        return []
    way = "colder" if offset < 0.0 else "hotter"
    sentence = (
        f"The stack is {abs(offset):.1f} K {way} than the plate is set. Set the plate {abs(offset):.0f} K "
        f"{'higher' if offset < 0.0 else 'lower'}, or go by a sensor on the stack."
    )
    return [("trace.offset", sentence)]


def _fast_words(fast: tuple[FastStretch, ...], rate_limit: float) -> list[tuple[str, str]]:
    if not fast:
        return []
    worst = max(fast, key=lambda one: abs(one.rate))
    deed = "Cooled" if worst.rate < 0.0 else "Heated"
    sentence = (
        f"{deed} at {abs(worst.rate) * 60.0:.1f} K/min from minute {worst.start / 60.0:.1f} to {worst.end / 60.0:.1f}; "
        f"{rate_limit * 60.0:.1f} K/min is the limit. Look for cracks before you go on."
    )
    return [("trace.too_fast", sentence)]


def _melt_words(melted: float | None, melts: float | None, least: float) -> list[tuple[str, str]]:
    if melted is None or melts is None or melted >= least:
        return []
    if melted <= 0.0:
        sentence = f"The stack never reached {melts - 273.15:.0f} °C: the adhesive has not flowed. Bond it again."
    else:
        sentence = (
            f"The stack was above {melts - 273.15:.0f} °C for {melted / 60.0:.1f} min only; {least / 60.0:.1f} min "
            "are wanted. The film may be thick and uneven: read it before lapping."
        )
    return [("trace.too_short", sentence)]
