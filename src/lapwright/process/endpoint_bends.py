"""Bends and small steps of the removal line: found on block sums once a second, and told apart.

For each of several look-back times the readings of a window are fitted by a line that bends at the knee (least
squares, line and bend together). How long the window is follows from the noise and from how the rate wanders: a longer
line is known better and says less about the rate just before the knee. What is found is named by the fault that
explains the readings best: a fall of the rate, a rise, a gauge that runs backwards, or a step.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Literal, NamedTuple

BLOCK_TIME = 0.9  # s, at least; a block of five readings a second holds five, whatever their jitter
LOOK_BACK = (4, 6, 9, 13, 18, 25, 35, 50, 96)  # blocks
KNEES = (2, 3, 4, 5, 6, 7, 9, 11, 13, 15, 18, 21, 25, 30, 35, 42, 50, 70, 96)  # blocks; where a change may have begun
NEAR = 25  # blocks; look-backs up to here share one window
LINE_LEAST = 15  # blocks before the knee
LINE_SHORTEST, LINE_LONGEST = 40.0, 300.0  # blocks
LINE_FACTOR = 8.0  # the window is this times the root of noise over what the rate wanders by in a minute, 1/s [s^0.5]
BLOCKS_KEPT = 400  # more than the longest window and look-back
WANDER_SHARE = 0.6  # of the wander that is allowed for; that is a worst case
BEND_SIGMA = 5.5
COLLAPSE_SIGMA = 4.9  # a fall by no more than the whole rate: fewer look-backs can show one by chance
COLLAPSE_SHARE = 0.45
MISSING_SHARE = 0.2  # enough, once MISSING_REMOVAL is missing
MISSING_REMOVAL = 0.35e-6  # m
SURGE_SHARE = 0.5
STEP_LEAST = 0.8e-6  # m
STEP_PREFERENCE = 10.0  # by how much 2 ln of its likelihood ratio must be above a bend's

BendKind = Literal["step", "collapse", "backwards", "surge", "slight"]
Sums = tuple[float, float, float, float, float, float]
#: what a fault changes the rate by, from and to, in units of the rate before; by how much it must explain better
_CHANGES: tuple[tuple[BendKind, float, float, float], ...] = (
    ("collapse", -0.6, 0.0, 0.0),
    ("backwards", -2.2, -1.8, 3.0),
    ("surge", 0.0, math.inf, 0.0),
)


@dataclass(slots=True)
class Blocks:
    """Running sums of the readings, one entry a second: count, time, removal, time², time × removal; last time."""

    begun: float = math.nan
    n: float = 0.0
    t: float = 0.0
    y: float = 0.0
    tt: float = 0.0
    ty: float = 0.0
    sums: list[Sums] = field(default_factory=lambda: [(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """A change in the recent past: what it looks most like, slopes [m/s], look-back time [s], step [m]."""

    kind: BendKind
    slope_before: float
    slope_after: float
    look_back: float
    step: float = 0.0


def add_to_block(blocks: Blocks, time: float, removal: float) -> bool:
    """Add a reading to the running sums; true when it completed a block. Times count from the run's start."""
    if math.isnan(blocks.begun):
        blocks.begun = time
    blocks.n += 1.0
    blocks.t += time
    blocks.y += removal
    blocks.tt += time * time
    blocks.ty += time * removal
    if time - blocks.begun < BLOCK_TIME:
        return False
    blocks.sums.append((blocks.n, blocks.t, blocks.y, blocks.tt, blocks.ty, time))
    if len(blocks.sums) > 2 * BLOCKS_KEPT:
        del blocks.sums[:-BLOCKS_KEPT]
    blocks.begun = time
    return True


def strongest_bend(blocks: Blocks, variance: float, *, rate: float, wander: float) -> Bend | None:
    """The change of the removal line in the last minute and a half that stands out, named by what explains it best.

    Parameters
    ----------
    blocks : Blocks
        The running sums.
    variance : float [m²]
        Variance of one reading.
    rate : float [m/s]
        Rate of removal, above zero; it sets the length of the window and what the rate may do of itself.
    wander : float [1]
        Relative standard deviation by which the rate changes of itself in one minute, at worst.

    Returns
    -------
    Bend or None
        None while nothing stands out, the record is too short, or nothing was removed before what stands out.

    Notes
    -----
    The change c of the slope at the knee is the coefficient of max(0, t − T) beside a line. Its variance is σ²/D, D the
    sum of squares of that regressor less its projection on the line, and what a rate that wanders as a random walk of
    density q adds, see `wander_in_change`. What stands out is c beyond 5.5 standard deviations, or a fall beyond
    4.9 by no more than the rate itself: 2 ln of the likelihood ratio is c₀ (2 c − c₀) over the variance, with c₀ = c
    held above minus the slope before.
    """
    sums = blocks.sums
    last = len(sums) - 1
    near = _first(last - NEAR, variance, rate, wander)
    if last - LOOK_BACK[0] - near < LINE_LEAST:
        return None
    line = _line(sums[near], sums[last])
    for look_back in LOOK_BACK:
        if look_back > NEAR:
            if last - look_back - LINE_LEAST < 0:
                break
            line = _line(sums[max(0, near + NEAR - look_back)], sums[last])
        elif last - look_back - near < LINE_LEAST:
            break
        change, before, doubt = _change(line, sums[last - look_back], sums[last], variance, wander * rate)
        square = change * change
        if square > BEND_SIGMA * BEND_SIGMA * doubt:
            return _explained(sums, near, variance, wander * rate)
        if change < 0.0 < before:
            if -change > before:
                square = before * (-2.0 * change - before)
            if square > COLLAPSE_SIGMA * COLLAPSE_SIGMA * doubt:
                return _explained(sums, near, variance, wander * rate)
    return None


def wander_in_change(window: float, share: float) -> float:
    """Variance of a fitted change of slope that a wandering rate makes, over the density of the wander.

    Parameters
    ----------
    window : float [s]
        Length of the window, above zero.
    share : float, 0 < share < 1 [1]
        Share of it that lies after the knee.

    Returns
    -------
    float [s]

    Notes
    -----
    The rate is a random walk of density q, the readings are even and many. The change of slope fitted beside a line
    answers a unit step of the rate at u with K(u), and the variance is q times the integral of K² over the window:
    W (3 + g) / (140 g²) with g = f (1 − f); our own integral.

    Examples
    --------
    >>> round(wander_in_change(100.0, 0.5), 2)
    37.14
    """
    both = share * (1.0 - share)
    return window * (3.0 + both) / (140.0 * both * both)


# ----------------------------------------------------------------------------------------------------------------------


class _Line(NamedTuple):
    """A straight line through a window: sums, centred sums and slope."""

    n: float
    t: float
    y: float
    spread: float
    slope: float
    length: float


def _first(knee: int, variance: float, rate: float, wander: float) -> int:
    """Where the window begins whose look-back is NEAR."""
    moved = wander * rate
    length = LINE_FACTOR * math.sqrt(math.sqrt(variance) / moved) if moved > 0.0 else LINE_LONGEST
    return max(0, knee - int(min(LINE_LONGEST, max(LINE_SHORTEST, length))))


def _line(first: Sums, last: Sums) -> _Line:
    n = last[0] - first[0]
    t = last[1] - first[1]
    y = last[2] - first[2]
    spread = last[3] - first[3] - t * t / n
    return _Line(n, t, y, spread, (last[4] - first[4] - t * y / n) / spread, last[5] - first[5])


def _change(line: _Line, knee: Sums, last: Sums, variance: float, wander: float) -> tuple[float, float, float]:
    """Change of slope [m/s], slope before [m/s], and variance of the change."""
    n, t, y, spread, slope, length = line
    begin = knee[5]
    m = last[0] - knee[0]
    after = last[1] - knee[1]
    lever = after - m * begin
    with_time = last[3] - knee[3] - begin * after
    along = (with_time - t * lever / n) / spread
    left = with_time - begin * lever - lever * lever / n - along * along * spread
    change = (last[4] - knee[4] - begin * (last[2] - knee[2]) - y * lever / n - along * slope * spread) / left
    share = (last[5] - begin) / length
    moved = WANDER_SHARE * wander
    doubt = variance / left + moved * moved / 60.0 * wander_in_change(length, share)
    return change, slope - along * change, doubt


def _step(line: _Line, knee: Sums, last: Sums, variance: float) -> tuple[float, float]:
    """Step at the knee [m], and 2 ln of the likelihood ratio by which it explains the readings better than a line."""
    m = last[0] - knee[0]
    along = (last[1] - knee[1] - line.t * m / line.n) / line.spread
    left = m - m * m / line.n - along * along * line.spread
    step = (last[2] - knee[2] - line.y * m / line.n - along * line.slope * line.spread) / left
    return step, step * step * left / variance


def _explained(sums: list[Sums], first: int, variance: float, wander: float) -> Bend | None:
    """What explains the readings of one window best; each fault may have begun at each knee.

    None where none can: nothing was removed before any knee, so that no rate fell or rose, and nothing jumped.
    """
    last = len(sums) - 1
    line = _line(sums[first], sums[last])
    found: list[tuple[float, Bend]] = []
    for look_back in KNEES:
        if last - look_back - first < LINE_LEAST:
            break
        knee = sums[last - look_back]
        change, before, doubt = _change(line, knee, sums[last], variance, wander)
        lasted = sums[last][5] - knee[5]
        if before > 0.0:
            after = before + max(change, -before)
            for kind, low, high, preference in _CHANGES:
                held = min(max(change, low * before), high * before)
                bend = Bend(kind=kind, slope_before=before, slope_after=after, look_back=lasted)
                found.append((held * (2.0 * change - held) / doubt - preference, bend))
        step, gain = _step(line, knee, sums[last], variance)
        if abs(step) > STEP_LEAST:
            bend = Bend(kind="step", slope_before=line.slope, slope_after=line.slope, look_back=lasted, step=step)
            found.append((gain - STEP_PREFERENCE, bend))
    return _sized(max(found, key=lambda one: one[0])[1]) if found else None


def _sized(bend: Bend) -> Bend:
    """The bend, if the change is large enough to be a fault."""
    change = bend.slope_after - bend.slope_before
    is_slight = False
    if bend.kind == "collapse":
        missed = -change * bend.look_back > MISSING_REMOVAL and -change > MISSING_SHARE * bend.slope_before
        is_slight = not missed and -change <= COLLAPSE_SHARE * bend.slope_before
    elif bend.kind == "surge":
        is_slight = change <= SURGE_SHARE * bend.slope_before
    return replace(bend, kind="slight") if is_slight else bend
