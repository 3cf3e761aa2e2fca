"""What goes wrong in a gauge stream, seen from the stream alone.

Reading by reading: a frozen gauge, a jump, too many wild readings. Once: a film or a wrong zero at the start. What
`endpoint_bends` finds second by second gets its code and sentence here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lapwright.process.endpoint_bends import LINE_LEAST, Bend, Blocks

FROZEN_CHANCE = math.log(1e-8)  # repeats less likely than this under the running estimate mean a frozen gauge
FROZEN_CHANCE_FAST = math.log(1e-7)  # the same where five blind seconds cost 0.4 µm: at FROZEN_FAST and more
FROZEN_CHANCE_LATE = math.log(5e-4)  # the same there after FROZEN_LATE and FROZEN_REPEATS: it is time to say so
FROZEN_LATE = 4.7  # s
FROZEN_REPEATS = 24
FROZEN_FAST = 4.8e-6 / 60.0  # m/s
FROZEN_SHARE = 0.45  # of the time since a bend; readings that repeat for longer explain it
FROZEN_IN_BEND = 6
FROZEN_ODD = 14  # repeats of a gauge no coarser than its noise; by chance in one run of readings out of 200
FROZEN_STARTING = 7.5  # s; the same while noise and rate are still being learnt
FROZEN_STEPS = 1.9  # steps that a gauge coarser than its noise should have made meanwhile
FROZEN_LEAST = 3.0  # s; a gauge slower than its stream repeats values for a while
JUMP_READINGS = 4
JUMP_TIME = 0.8  # s
WILD_SHARE = 0.4
WILD_TIME = 5.0  # s
WILD_STEP = 0.3  # s; one reading after a gap counts no more than this
NOISE_FACTOR = 5.0  # of variance
FILM_BEGIN = 10  # blocks at the start that are left out of the line back to it
FILM_LIMIT = 2.0e-6  # m; a line that begins further from the zero than this, or than the zero's own doubt, is a step
FILM_CLIMB = 10.0  # s of the expected rate that a slow start may be behind
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
    n, t, y, tt, ty = (after - before for after, before in zip(sums[-1][:5], sums[FILM_BEGIN][:5], strict=True))
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


def note_bend(stream: StreamFaults, time: float, bend: Bend, *, is_coarse: bool = False) -> None:
    """Name a bend that stands out: a step, a collapse, a surge, a gauge running backwards, or one that froze."""
    repeats_oddly = stream.repeats >= FROZEN_ODD and not is_coarse
    left = 100.0 * bend.slope_after / bend.slope_before if bend.slope_before else 0.0
    lasts = stream.repeats >= FROZEN_IN_BEND and time - stream.since > FROZEN_SHARE * bend.look_back
    if lasts or repeats_oddly:
        note_frozen(stream, time)
    elif bend.kind == "step":
        sentence = f"The gauge stepped by {bend.step * 1e6:+.1f} µm. Check its seat and the zero before going on."
        note_fault(stream, "gauge.jump", time, sentence)
    elif bend.kind == "backwards":
        sentence = "The gauge runs backwards: it reports material coming back. Check its direction and its seat."
        note_fault(stream, "gauge.backwards", time, sentence)
    elif bend.kind == "collapse":
        sentence = (
            f"The rate fell to {left:.0f} % of what it was. "
            "Is the slurry still running? Is the plate glazed? Look before going on."
        )
        note_fault(stream, "run.rate_collapse", time, sentence)
    elif bend.kind == "surge":
        sentence = (
            f"The rate rose to {left:.0f} % of what it was. Look for coarse grain, a lost carrier or a changed load."
        )
        note_fault(stream, "run.rate_surge", time, sentence)


# ----------------------------------------------------------------------------------------------------------------------


def _film_sentence(begin: float) -> str:
    return (
        f"The readings began {begin * 1e6:+.1f} µm off the zero: a slurry film formed, or the zero was wrong. "
        "Zero again with the plate running and the slurry on."
    )
