"""Campaign of simulated plates: shape seen, inferred from wafers, and put right by the advised ring.

Usage: campaign_plate.py [PLATES]. Writes a report to docs/reference/campaign-plate.md.
"""

import subprocess
import sys
from pathlib import Path

import numpy as np

from lapwright.testing.plate_campaign import HOUR, put_right, recovered, seen_after

ROOT = Path(__file__).parents[2]
MICROMETRE = 1e-6


def main(arguments):
    """Growth seen, wafers that tell the plate, plates put right."""
    plates = int(arguments[0]) if arguments else 300
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=True, cwd=ROOT
    ).stdout.strip()
    lines = [
        "# Campaign: plates",
        "",
        f"Made by `./dev campaign plate` at commit {commit}: {plates} seeded plates a row.",
        "Plates of 300 mm, land 40 to 150 mm, ring of 65 mm radius filled with work.",
        "The simulated plate wears by another law than the program's: other exponents, a ring stiff at its rims.",
        "Circles that stand out of its cap bear more; its ring stands 1.5 mm (one deviation) off its scale.",
        "A check is a bar laid twice, twelve places each, 0.4 µm of noise a reading.",
        "The dome is that along the places of the bar; true is what a dial without noise would read there.",
        "",
        "| what | share |",
        "| --- | --- |",
        *_seen(plates),
        *_told(plates),
        "",
        "The ring stood 6 mm off its computed neutral place for 4 h, with three checks; then the advice was followed.",
        "The last column: plates whose dome after the first go lay inside the 90 % interval stated for it.",
        "",
        "| on record before | start, µm: median, 90th percentile | 1 µm in one go | in two | in three | in the 90 % |",
        "| --- | --- | --- | --- | --- | --- |",
        _righted(plates, moved_before=False),
        _righted(plates, moved_before=True),
    ]
    (ROOT / "docs" / "reference" / "campaign-plate.md").write_text("\n".join(lines) + "\n", encoding="utf-8")
    print("\n".join(lines))
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


def _righted(plates, *, moved_before):
    found = [put_right(seed, moved_before=moved_before) for seed in range(plates)]
    starts = [abs(one.start) / MICROMETRE for one in found]
    goes = [_share([one.within(MICROMETRE, goes) for one in found]) for goes in (1, 2, 3)]
    inside = [abs(one.after[0]) <= 1.645 * one.stated for one in found if one.after]
    before = "one earlier place of the ring, two checks" if moved_before else "nothing"
    spread = f"{np.median(starts):.1f}, {np.quantile(starts, 0.9):.1f}"
    return f"| {before} | {spread} | {' | '.join(goes)} | {_share(inside)} |"


def _share(hits):
    return f"{100.0 * sum(hits) / len(hits):.1f} %"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
