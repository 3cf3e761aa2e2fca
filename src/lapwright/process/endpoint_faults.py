"""What goes wrong in a gauge stream, seen from the stream alone.

Reading by reading: a frozen gauge, a jump, too many wild readings. Second by second, on block sums: a change of rate
or a small step, by the largest standardised slope change over several look-back times (a generalised likelihood
ratio for a bend in a line, with the line before the bend fitted from its own window).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

FROZEN_CHANCE = math.log(1e-7)  # repeats less likely than this under the running estimate mean a frozen gauge
FROZEN_CHANCE_FAST = math.log(1e-7)  # the same where five blind seconds cost 0.4 µm: at FROZEN_FAST and more
FROZEN_CHANCE_LATE = math.log(5e-4)  # the same there after FROZEN_LATE and FROZEN_REPEATS: it is time to say so
FROZEN_LATE = 4.7  # s
FROZEN_REPEATS = 24
FROZEN_FAST = 4.75e-6 / 60.0  # m/s
FROZEN_SHARE = 0.45  # of the time since a bend; readings that repeat for longer explain it
FROZEN_IN_BEND = 6
FROZEN_STARTING = 7.5  # s; the same while noise and rate are still being learnt
FROZEN_STEPS = 1.9  # steps that a gauge coarser than its noise should have made meanwhile
FROZEN_LEAST = 3.0  # s; a gauge slower than its stream repeats values for a while
JUMP_READINGS = 4
JUMP_TIME = 0.8  # s
WILD_SHARE = 0.4
WILD_TIME = 5.0  # s
WILD_STEP = 0.3  # s; one reading after a gap counts no more than this
BLOCK_TIME = 1.0  # s
LOOK_BACK = (3, 6, 9, 13, 18, 25, 35, 50, 96)  # blocks
LINE_BLOCKS = 90  # at least; twice the look-back time where that is longer
LINE_LEAST = 15
BLOCKS_KEPT = 400  # more than the longest look-back and its line
WANDER_MEMORY = 60.0  # s; a rate that wanders further back comes back as often as not
BEND_SIGMA = 5.5
COLLAPSE_SIGMA = 5.2  # a rate that falls is the fault most often met, and each second of it counts
COLLAPSE_SHARE = 0.45
MISSING_SHARE = 0.3  # enough, once MISSING_REMOVAL is missing
MISSING_REMOVAL = 0.5e-6  # m
BACKWARDS_LEAST = 1.0e-6  # m
BACKWARDS_SHARE = 0.75  # of the former slope, negative: a line that falls so fast runs backwards and does not rest
SURGE_SHARE = 0.5
NOISE_FACTOR = 5.0  # of variance
FILM_BEGIN = 10  # blocks at the start that are left out of the line back to it
FILM_LIMIT = 2.0e-6  # m; a line that begins further from the zero than this, or than the zero's own doubt, is a step
FILM_CLIMB = 10.0  # s of the expected rate that a slow start may be behind
STEP_LEAST = 0.8e-6  # m
STEP_PREFERENCE = 6.0  # how much better, in units of the reading variance, a step must fit than a bend
_SQRT_HALF = math.sqrt(0.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing wrong with a run: stable code, when it was seen [s], and what to do, in a sentence."""

    code: str
    time: float
    sentence: str


@dataclass(slots=True)
class StreamFaults:
    """What the single readings show."""

    value: float = math.nan
    since: float = 0.0
    since_expected: float = 0.0
    since_rate: float = 0.0
    repeats: int = 0
    wild: int = 0
    wild_sign: int = 0
    wild_since: float = 0.0
    wild_share: float = 0.0
    found: tuple[Fault, ...] = ()


@dataclass(slots=True)
class Blocks:
    """Running sums of the readings, one entry a second: count, time, removal, time², time × removal."""

    begun: float = math.nan
    n: float = 0.0
    t: float = 0.0
    y: float = 0.0
    tt: float = 0.0
    ty: float = 0.0
    sums: list[tuple[float, float, float, float, float]] = field(default_factory=lambda: [(0.0, 0.0, 0.0, 0.0, 0.0)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """The best supported change in the recent past: slopes [m/s], significance [1], look-back time [s], step [m]."""

    slope_before: float
    slope_change: float
    significance: float
    look_back: float
    step: float
    is_step: bool

    @property
    def slope_after(self) -> float:
        """Slope since the bend [m/s]."""
        return self.slope_before + self.slope_change

    @property
    def is_backwards(self) -> bool:
        """Whether the line falls about as fast as it rose, or fell by a micrometre for certain (three deviations)."""
        if self.slope_after < -BACKWARDS_SHARE * abs(self.slope_before):
            return True
        has_fallen = -self.slope_after * self.look_back > BACKWARDS_LEAST
        return has_fallen and self.slope_after < -3.0 * abs(self.slope_change / self.significance)

    @property
    def is_collapse(self) -> bool:
        """Whether the rate fell by much, or by less for long enough that removal is missing."""
        lost = -self.slope_change
        missed = lost * self.look_back > MISSING_REMOVAL and lost > MISSING_SHARE * abs(self.slope_before)
        return missed or lost > COLLAPSE_SHARE * abs(self.slope_before)


def note_fault(stream: StreamFaults, code: str, time: float, sentence: str) -> None:
    """Keep a fault the first time it is seen."""
    if all(fault.code != code for fault in stream.found):
        stream.found = (*stream.found, Fault(code=code, time=time, sentence=sentence))


def weigh_repeats(stream: StreamFaults, time: float, *, doubt: float, noise: float, resolution: float) -> None:
    """Weigh how likely it is that a working gauge shows one value this many times in a row.

    The expected reading goes on from the first of them at the rate of then, since the repeats have dragged the estimate
    along, and may be off by `doubt` throughout; each reading has its own noise. Where the noise is small the most
    favourable course within the doubt counts. Where five blind seconds cost 0.4 µm, 25 equal readings in five seconds
    are enough unless a working gauge shows them more often than once in 2000 beginnings: at 0.5 µm noise and 1 µm
    resolution it does so in one run of 20 minutes out of 40 at 5 µm/min, and seldomer the faster the cut.
    """
    half = 0.5 * resolution if resolution > 0.0 else 0.01 * noise
    scale = _SQRT_HALF / noise
    total = 0.0
    for share in (0.1, 0.5, 0.9):
        off = abs(stream.since_expected + share * (time - stream.since) * stream.since_rate - stream.value)
        off = max(0.0, off - doubt)
        total += math.log(max(0.5 * (math.erf((half - off) * scale) + math.erf((half + off) * scale)), 1e-12))
    enough = FROZEN_CHANCE
    if stream.since_rate >= FROZEN_FAST:
        is_late = time - stream.since >= FROZEN_LATE and stream.repeats >= FROZEN_REPEATS
        enough = FROZEN_CHANCE_LATE if is_late else FROZEN_CHANCE_FAST
    if stream.repeats * total / 3.0 < enough:
        note_frozen(stream, time)


def note_frozen(stream: StreamFaults, time: float) -> None:
    """Say that the gauge is frozen."""
    note_fault(
        stream,
        "gauge.frozen",
        time,
        f"The gauge has shown one and the same value for {time - stream.since:.1f} s while the plate was cutting. "
        "Check that its tip moves freely, then zero again.",
    )


def note_wild(stream: StreamFaults, time: float, deviation: float, *, step: float, starting: bool = False) -> None:
    """Count a reading too far off to be believed; enough of one sign in a row are a jump."""
    sign = 1 if deviation > 0.0 else -1
    if stream.wild and sign == stream.wild_sign:
        stream.wild += 1
    else:
        stream.wild, stream.wild_sign, stream.wild_since = 1, sign, time
    stream.wild_share += (1.0 - stream.wild_share) * min(WILD_STEP, step) / WILD_TIME
    is_jump = stream.wild >= JUMP_READINGS and time - stream.wild_since >= JUMP_TIME
    is_old = stream.repeats >= FROZEN_IN_BEND and stream.since < stream.wild_since  # was believable, has not changed
    if is_old and (is_jump or stream.wild_share > WILD_SHARE):
        note_frozen(stream, time)
    elif is_jump:
        if starting:
            note_fault(stream, "gauge.film_step", time, _film_sentence(deviation))
            return
        note_fault(
            stream,
            "gauge.jump",
            time,
            f"The gauge jumped by {deviation * 1e6:+.1f} µm and stayed there. "
            "Check its seat and the zero before going on.",
        )
    elif stream.wild_share > WILD_SHARE:
        note_fault(
            stream,
            "gauge.noisy",
            time,
            "Most readings of the last seconds are wild. Check the gauge's cable, its seat and the plate for chatter.",
        )


def note_film(stream: StreamFaults, blocks: Blocks, time: float, *, variance: float, allowed: float) -> None:
    """Look whether the line of the first minute begins at the zero, or a film (or a wrong zero) shifted it."""
    sums = blocks.sums
    if len(sums) < FILM_BEGIN + LINE_LEAST:
        return
    n, t, y, tt, ty = (after - before for after, before in zip(sums[-1], sums[FILM_BEGIN], strict=True))
    spread = tt - t * t / n
    slope = (ty - t * y / n) / spread
    begin = (y - slope * t) / n
    doubt = math.sqrt(variance * (1.0 / n + t * t / (n * n * spread)))
    if abs(begin) > allowed + 4.0 * doubt:
        note_fault(stream, "gauge.film_step", time, _film_sentence(begin))


def note_tame(stream: StreamFaults, step: float) -> None:
    """A believable reading ends a row of wild ones."""
    stream.wild = 0
    if stream.wild_share:
        stream.wild_share -= stream.wild_share * min(WILD_STEP, step) / WILD_TIME


def add_to_block(blocks: Blocks, time: float, removal: float) -> bool:
    """Add a reading to the running sums; true when it completed a block. Times count from the run's start."""
    if not blocks.begun <= time:
        blocks.begun = time
    blocks.n += 1.0
    blocks.t += time
    blocks.y += removal
    blocks.tt += time * time
    blocks.ty += time * removal
    if time - blocks.begun < BLOCK_TIME - 1e-6:  # readings a fifth of a second apart must not hang on rounding
        return False
    blocks.sums.append((blocks.n, blocks.t, blocks.y, blocks.tt, blocks.ty))
    if len(blocks.sums) > 2 * BLOCKS_KEPT:
        del blocks.sums[:-BLOCKS_KEPT]
    blocks.begun = math.nan
    return True


def strongest_bend(blocks: Blocks, variance: float, wander: float) -> Bend | None:
    """The bend of the removal line in the last minute that stands out most.

    Parameters
    ----------
    blocks : Blocks
        The running sums.
    variance : float [m²]
        Variance of one reading.
    wander : float [1]
        Relative standard deviation by which the rate changes of itself in one minute.

    Returns
    -------
    Bend or None
        None while the record is too short.

    Notes
    -----
    Readings before the bend at time T fit a line; after it the residual e grows as slope change × (t − T), so the
    change is Σ(t − T)e / Σ(t − T)². Its variance adds the scatter of the readings, the two uncertain numbers of the
    line, and the wander of the rate.
    """
    sums = blocks.sums
    last = len(sums) - 1
    best: Bend | None = None
    for look_back in LOOK_BACK:
        knee = last - look_back
        first = max(0, knee - max(LINE_BLOCKS, 2 * look_back))
        if knee - first < LINE_LEAST:
            break
        bend = _bend(sums[first], sums[knee], sums[last], variance=variance, wander=wander)
        if bend is not None and (best is None or abs(bend.significance) > abs(best.significance)):
            best = bend
    return best


def note_bend(stream: StreamFaults, time: float, bend: Bend) -> None:
    """Name a bend that is both certain and large: a step, a collapse, a surge, or a gauge running backwards."""
    if -COLLAPSE_SIGMA < bend.significance < BEND_SIGMA:
        return
    slope = bend.slope_after
    if stream.repeats >= FROZEN_IN_BEND and time - stream.since > FROZEN_SHARE * bend.look_back:
        note_frozen(stream, time)
    elif bend.is_step and abs(bend.step) > STEP_LEAST:
        sentence = f"The gauge stepped by {bend.step * 1e6:+.1f} µm. Check its seat and the zero before going on."
        note_fault(stream, "gauge.jump", time, sentence)
    elif bend.is_backwards:
        sentence = "The gauge runs backwards: it reports material coming back. Check its direction and its seat."
        note_fault(stream, "gauge.backwards", time, sentence)
    elif bend.is_collapse:
        left = max(0.0, slope / bend.slope_before) if bend.slope_before else 0.0
        sentence = (
            f"The rate fell to {100 * left:.0f} % of what it was. "
            "Is the slurry still running? Is the plate glazed? Look before going on."
        )
        note_fault(stream, "run.rate_collapse", time, sentence)
    elif 0.0 < SURGE_SHARE * abs(bend.slope_before) < bend.slope_change:
        sentence = (
            f"The rate rose to {100 * slope / bend.slope_before:.0f} % of what it was. "
            "Look for coarse grain, a lost carrier or a changed load."
        )
        note_fault(stream, "run.rate_surge", time, sentence)


# ----------------------------------------------------------------------------------------------------------------------


def _film_sentence(begin: float) -> str:
    return (
        f"The readings began {begin * 1e6:+.1f} µm off the zero: a slurry film formed, or the zero was wrong. "
        "Zero again with the plate running and the slurry on."
    )


def _bend(
    first: tuple[float, ...], knee: tuple[float, ...], last: tuple[float, ...], *, variance: float, wander: float
) -> Bend | None:
    n, t, y, tt, ty = (after - before for after, before in zip(knee, first, strict=True))
    m, s, z, ss, sz = (after - before for after, before in zip(last, knee, strict=True))
    if n < 3.0 or m < 2.0:
        return None
    mean_t, mean_y = t / n, y / n
    spread = tt - n * mean_t * mean_t
    if spread <= 0.0:
        return None
    slope = (ty - n * mean_t * mean_y) / spread
    knee_time = mean_t + math.sqrt(3.0 * spread / n)  # end of evenly spread readings
    lever1 = s - m * knee_time
    lever2 = ss - 2.0 * knee_time * s + m * knee_time * knee_time
    level = mean_y + slope * (knee_time - mean_t)
    residual0 = z - m * level - slope * lever1
    residual1 = sz - knee_time * z - level * lever1 - slope * lever2
    if lever2 <= 0.0:
        return None
    change = residual1 / lever2
    look_back = 2.0 * lever1 / m
    offset = lever1 / lever2
    doubt = variance * (1.0 / lever2 + offset * offset / n + (1.0 + (knee_time - mean_t) * offset) ** 2 / spread)
    doubt += (wander * slope) ** 2 * min(WANDER_MEMORY, (knee_time - mean_t) + 0.67 * look_back) / 60.0
    return Bend(
        slope_before=slope,
        slope_change=change,
        significance=change / math.sqrt(doubt),
        look_back=look_back,
        step=residual0 / m,
        is_step=residual0 * residual0 / m - residual1 * residual1 / lever2 > STEP_PREFERENCE * variance,
    )
