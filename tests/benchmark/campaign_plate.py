"""Campaign of simulated plates: shape seen, inferred from wafers, and put right by the advised ring.

Usage: campaign_plate.py [PLATES]. Writes a report to docs/reference/campaign-plate.md.
"""

import subprocess
import sys
from pathlib import Path

import numpy as np

from lapwright.sim.plates import WearLaw
from lapwright.testing.plate_campaign import (
    HOUR,
    USUAL_SHOP,
    PlateShop,
    put_right,
    put_right_knowing,
    recovered,
    seen_after,
)

ROOT = Path(__file__).parents[2]
MICROMETRE = 1e-6
#: Shops by laws that nothing of the advice was ever adjusted to; their plates and rings differ more than the first's.
_OTHER = {"slowest": 2e-6 / HOUR, "fastest": 12e-6 / HOUR, "play": 2e-3}
SHOPS = (
    ("first", USUAL_SHOP, 1.0),
    ("soft ring", PlateShop(law=WearLaw(pressure_exponent=1.1, speed_exponent=0.9, rim_load=-0.2, yields=8e-6), **_OTHER), 0.5),
    ("stiff rims", PlateShop(law=WearLaw(pressure_exponent=0.7, speed_exponent=1.0, rim_load=0.8, yields=1.5e-6), **_OTHER), 0.5),
)  # fmt: skip
BEFORE = {False: "nothing", True: "one earlier place, two checks"}
#: Plates put right by somebody who knows the law; each takes many simulated plates.
KNOWING_SHARE = 0.12
FIRST = 9_000  # seed of the first plate put right; none from here on was looked at before
LOOKS = (0, 2)
HEAD = """# Campaign: plates

Made by `./dev campaign plate` at commit {commit}: {plates} seeded plates a row of the first shop, half as many of the others.
Plates of 300 mm, land 40 to 150 mm, ring of 65 mm radius filled with work.
The simulated plates wear by other laws than the program's: other exponents, a ring stiff at its rims.
Circles that stand out of its cap bear more; the ring stands 1.5 mm (one deviation) off its scale, in the others 2 mm.
Plates wear 3 to 6 µm/h, in the others 2 to 12.
A check is a bar laid twice, twelve places each, 0.4 µm of noise a reading.
The dome is that along the places of the bar; true is what a dial without noise would read there.

| what | share |
| --- | --- |
"""
RING = """
## The ring

The ring stood 6 mm off its computed neutral place for 4 h, with three checks; then the advice was followed.
*Looks*: where the advice asks for a look on the way, it is taken, at most so many times in a go; the ring stays where it is, and the go ends when the advice moves it or is done.
Without looks the minutes first advised are run to their end.
Hours and checks are means over the first two goes.
The last column: plates whose dome after the first go, run to its end, lay inside the 90 % interval stated for it.

| shop | on record before | start, µm: median, 90th percentile | looks | 1 µm in one go | in two | in three | hours | checks | in the 90 % |
| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |
"""
BOUND = """
## What could be reached

*Readings alone*: somebody who knows law, speed of wear and play of the ring misses by the error of the check before the go alone, here {noise:.2f} µm (standard deviation).
*Knows the law*: he knows exponents, ring and yielding exactly, but learns speed of wear and play from the same checks, and takes the place and the time with the best chance of one micrometre ({knowing} plates of the first shop).
*Advice* is ours on the same plates; it does not know the law.

| on record before | readings alone | knows the law: in one go | in two | advice: in one go | in two | with looks: in one go | in two |
| --- | --- | --- | --- | --- | --- | --- | --- |
"""


def main(arguments):
    """Growth seen, wafers that tell the plate, plates put right, and what could be reached."""
    plates = int(arguments[0]) if arguments else 200
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=True, cwd=ROOT
    ).stdout.strip()
    text = HEAD.format(commit=commit, plates=plates) + "\n".join([*_seen(plates), *_told(plates)]) + "\n" + RING
    for name, shop, share in SHOPS:
        text += "".join(_righted(name, shop, round(share * plates), moved_before=before) for before in BEFORE)
    knowing = max(2, round(KNOWING_SHARE * plates))
    text += BOUND.format(noise=_check_noise() / MICROMETRE, knowing=knowing)
    text += "".join(_bound(knowing, moved_before=before) for before in BEFORE)
    (ROOT / "docs" / "reference" / "campaign-plate.md").write_text(text, encoding="utf-8")
    print(text)
    return 0


def _seen(plates):
    grown = [seen_after(seed, 3.0 * MICROMETRE / HOUR) for seed in range(plates)]
    still = [seen_after(seed, 0.0) for seed in range(plates)]
    return [
        f"| growth of 3 µm/h seen by the second check | {_share([one == 2 for one in grown])} |",
        f"| seen by the third | {_share([one is not None for one in grown])} |",
        f"| a still plate said to grow within three checks | {_share([one is not None for one in still])} |",
    ]


def _told(plates):
    ratios = [recovered(seed) for seed in range(plates)]
    within = _share([abs(one - 1.0) <= 0.2 for one in ratios])
    return [f"| dome told by one lapped wafer of 50.8 to 100 mm within 20 % | {within} |"]


def _righted(name, shop, plates, *, moved_before):
    """A line without looks and one with them, on the same plates."""
    lines = ""
    for looks in LOOKS:
        found = [put_right(FIRST + seed, moved_before=moved_before, shop=shop, looks=looks) for seed in range(plates)]
        starts = [abs(one.start) / MICROMETRE for one in found]
        inside = [abs(one.after[0] - one.expected) <= 1.645 * one.stated for one in found if one.after]
        spread = f"{np.median(starts):.1f}, {np.quantile(starts, 0.9):.1f}"
        hours = np.mean([sum(one.times[:2]) / HOUR for one in found])
        checks = np.mean([sum(one.checks[:2]) for one in found])
        lines += (
            f"| {name} | {BEFORE[moved_before]} | {spread} | {looks or 'none'} | {_goes(found, 3)} | {hours:.1f} "
            f"| {checks:.1f} | {'–' if looks else _share(inside)} |\n"
        )
    return lines


def _bound(plates, *, moved_before):
    seeds = range(FIRST, FIRST + plates)
    knowing = [put_right_knowing(seed, moved_before=moved_before) for seed in seeds]
    ours, looking = ([put_right(one, moved_before=moved_before, looks=looks) for one in seeds] for looks in LOOKS)
    alone = [abs(one.checked - one.start) <= MICROMETRE for one in ours]
    return (
        f"| {BEFORE[moved_before]} | {_share(alone)} | {_goes(knowing, 2)} | {_goes(ours, 2)} | {_goes(looking, 2)} |\n"
    )


def _check_noise():
    found = [put_right(seed, moved_before=False, goes=0) for seed in range(100)]
    return float(np.std([one.checked - one.start for one in found]))


def _goes(found, most):
    return " | ".join(_share([one.within(MICROMETRE, goes) for one in found]) for goes in range(1, most + 1))


def _share(hits):
    return f"{100.0 * sum(hits) / len(hits):.1f} %"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
