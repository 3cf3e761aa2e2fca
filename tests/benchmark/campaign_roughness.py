"""Campaign of imagined rough faces: how often the stated interval holds the true roughness.

Usage: campaign_roughness.py [FACES]. Writes a report to docs/reference/campaign-roughness.md.
"""

import math
import subprocess
import sys
from pathlib import Path

import numpy as np

from lapwright.testing.roughness_campaign import Face, covered

ROOT = Path(__file__).parents[2]
LENGTHS = (2e-6, 4e-6, 8e-6)
INSTRUMENTS = ((0.0, 0.0), (0.3, 0.02), (0.6, 0.05))


def main(arguments):
    """Every kind of face, Ra and Rq, one line and three."""
    faces = int(arguments[0]) if arguments else 2000
    lines = [*_head(faces), *(_row(length, *instrument, count, faces) for length in LENGTHS
                              for instrument in INSTRUMENTS for count in (1, 3))]  # fmt: skip
    (ROOT / "docs" / "reference" / "campaign-roughness.md").write_text("\n".join(lines) + "\n", encoding="utf-8")
    print("\n".join(lines))
    return 0


def _head(faces):
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=True, cwd=ROOT
    ).stdout.strip()
    error = 100 * math.sqrt(0.05 * 0.95 / faces)
    return [
        "# Campaign: the uncertainty of roughness",
        "",
        f"Made by `./dev campaign roughness` at commit {commit}: {faces} seeded faces a row, normal heights.",
        "Cutoff 0.08 mm, spacing 1 µm, five sections a line; noise and scale error as a share of the roughness.",
        f"Share of faces whose true value lies inside the 95 % interval; standard error of a share {error:.1f} %.",
        "",
        "| autocorrelation length, µm | noise of a point | scale error | lines | Ra | Rq |",
        "| --- | --- | --- | --- | --- | --- |",
    ]


def _row(length, noise, scale_error, count, faces):
    face = Face(length=length, noise=noise, scale_error=scale_error, lines=count)
    generator = np.random.default_rng([20_261_125, round(length * 1e6), round(noise * 10), count])
    held = [covered(face, generator) for _ in range(faces)]
    ra, rq = (100 * sum(one[parameter] for one in held) / faces for parameter in ("ra", "rq"))
    return f"| {length * 1e6:g} | {noise:g} | {100 * scale_error:g} % | {count} | {ra:.1f} % | {rq:.1f} % |"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
