"""Campaign of seeded fringe pictures: accuracy of the three methods.

Usage: campaign_fringes.py [IMAGES] [--side PIXELS]. Writes a report to docs/reference/campaign-fringes.md.
A tenth of the images each for phase steps, a fifth for closed fringes.
"""

import math
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np

from lapwright.testing.fringe_campaign import WRONG, carrier_outcome, closed_outcome, rate_bound, steps_outcome

ROOT = Path(__file__).parents[2]


def main(arguments):
    """Work through everything and write the report."""
    images = int(arguments[0]) if arguments and arguments[0].isdigit() else 1000
    side = int(arguments[arguments.index("--side") + 1]) if "--side" in arguments else 1024
    began = time.perf_counter()
    lines = _head(images, side)
    lines += carrier(images, side, "polynomial") + carrier(images // 5, side, "hills")
    lines += closed(images // 5, 512, "polynomial") + closed(images // 5, 512, "hills")
    lines += steps(images // 10, 512)
    lines += ["", f"Whole campaign: {time.perf_counter() - began:.0f} s."]
    (ROOT / "docs" / "reference" / "campaign-fringes.md").write_text("\n".join(lines) + "\n", encoding="utf-8")
    print("\n".join(lines))
    return 0


def carrier(images, side, family):
    """One picture with tilt fringes."""
    ended = [carrier_outcome(seed, side=side, family=family) for seed in range(images)]
    kept = [outcome for outcome in ended if outcome.refused is None]
    lines = ["", f"## One picture with tilt fringes, {side} x {side}, surfaces: {family}", ""]
    return lines + _errors(kept, len(ended)) + _turns(kept) + _refusals(ended)


def closed(images, side, family):
    """One picture with closed fringes, up to sign."""
    ended = [closed_outcome(seed, side=side, family=family) for seed in range(images)]
    kept = [outcome for outcome in ended if outcome.refused is None]
    whole = [math.hypot(outcome.interior, 0.24 * outcome.edge) for outcome in kept]
    good = sum(error <= 1 / 20 for error in whole)
    lines = ["", f"## Closed fringes, {side} x {side}, surfaces of 2 to 10 fringes: {family}", ""]
    lines.append(
        f"{good} of {images} within 1/20 fringe up to sign, {images - len(kept)} refused, {len(kept) - good} returned wrong "
        f"(95 % bound on wrong: {100 * rate_bound(len(kept) - good, images):.1f} %)."
    )
    return [*lines, "", *_errors(kept, len(ended), (1 / 20, 1 / 20)), *_refusals(ended)]


def steps(images, side):
    """Five quarter turns against the noise bound noise / amplitude * sqrt(2 / 5)."""
    lines = ["", f"## Five phase steps, {side} x {side}", ""]
    lines += [
        "| noise | images | median error, fringe | largest | bound | largest / bound |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for noise in (0.01, 0.05):
        errors = [outcome.interior for outcome in _kept(steps_outcome, range(images), side=side, noise=noise)]
        bound = noise * math.sqrt(2 / 5) / (2 * math.pi)
        lines.append(
            f"| {100 * noise:.0f} % | {len(errors)} | {np.median(errors):.5f} | {max(errors):.5f} | {bound:.5f} | {max(errors) / bound:.3f} |"
        )
    return lines


def _kept(function, seeds, **conditions):
    ended = [function(seed, **conditions) for seed in seeds]
    return [outcome for outcome in ended if outcome.refused is None]


def _errors(kept, images, limits=(1 / 200, 1 / 40)):
    rows = ["| error, fringe | median | 95 % | largest | over the limit |", "| --- | --- | --- | --- | --- |"]
    for name, limit in zip(("interior", "edge"), limits, strict=True):
        values = np.array([getattr(outcome, name) for outcome in kept])
        over = int(np.sum(values > limit))
        rows.append(
            f"| {name} rms (limit {limit:.4g}) | {np.median(values):.5f} | {np.percentile(values, 95):.5f} "
            f"| {values.max():.5f} | {over} of {images} |"
        )
    least = min(outcome.interior_share for outcome in kept), min(outcome.edge_share for outcome in kept)
    outside = max(outcome.outside for outcome in kept)
    shares = f"Least share with a height: interior {least[0]:.4f}, edge band {least[1]:.4f}; "
    return [*rows, "", shares + f"most pixels with a height off the sample: {outside}."]


def _turns(kept):
    wrong = sum(outcome.worst > WRONG for outcome in kept)
    bound = f"(95 % bound {100 * rate_bound(wrong, len(kept)):.2f} %)."
    return ["", f"Unwrapping mistakes (an error above half a fringe anywhere): {wrong} of {len(kept)} {bound}"]


def _refusals(ended):
    codes = Counter(outcome.refused for outcome in ended if outcome.refused)
    return ["", "Refused: " + (", ".join(f"{code} {count}" for code, count in codes.items()) or "none") + "."]


def _head(images, side):
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=False, cwd=ROOT
    ).stdout.strip()
    return [
        "# Campaign: fringe pictures",
        "",
        f"Made by `campaign_fringes.py {images} --side {side}` at commit {commit or 'unknown'}; seeds from 0.",
        "Noise 5 % of the fringe amplitude unless said; departure up to an eighth of the fringes and at most 3.",
    ]


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
