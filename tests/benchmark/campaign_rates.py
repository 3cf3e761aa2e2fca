"""Campaign of imagined labs: how well the rate of the next run is predicted, beside an oracle and two habits.

Usage: campaign_rates.py [LABS]. Writes a report to docs/reference/campaign-rates.md.
"""

import subprocess
import sys
import time
from pathlib import Path

import numpy as np

from lapwright.library import load
from lapwright.sim.rate_history import Ways
from lapwright.testing.rate_campaign import Shop, imagined_labs

ROOT = Path(__file__).parents[2]
#: Three shops by laws that nothing of the program was ever adjusted to.
FALLING = Shop(
    pressure_exponents=(0.5, 0.65), speed_exponents=(1.0, 1.2),
    ways=Ways(slurry_power=0.6, tails=3.0, lot_runs=(2, 5), lot_scatter=0.08, plate_wander=0.0, plate_fall=0.008,
              dressed_runs=(6, 12)),
)  # fmt: skip
SEASONED = Shop(
    pressure_exponents=(1.0, 1.15), speed_exponents=(0.5, 0.8),
    ways=Ways(threshold=3e3, season=0.05, luck_kept=0.4, scatter=0.06, lot_runs=(20, 40), lot_scatter=0.03,
              plate_wander=0.02, dressed_runs=(25, 40), dressing_jump=0.08),
)  # fmt: skip
PLAIN = Shop(
    pressure_exponents=(1.0, 1.0), speed_exponents=(1.0, 1.0),
    ways=Ways(scatter=0.09, tails=60.0, lot_runs=(15, 30), lot_scatter=0.1, plate_wander=0.006, dressing_jump=0.02),
)  # fmt: skip
#: Name, shop, share of the labs asked for.
SHOPS = (
    ("the shop of reference: scatter 7 %", Shop(), 3.0),
    ("quiet: scatter 4 %", Shop(ways=Ways(scatter=0.04)), 1.0),
    ("noisy: scatter 12 %", Shop(ways=Ways(scatter=0.12)), 1.0),
    ("no lots, steady plates", Shop(ways=Ways(lot_scatter=0.0, plate_wander=0.0, dressing_jump=0.0)), 1.0),
    ("plates that drift and jump twice as far", Shop(ways=Ways(plate_wander=0.024, dressing_jump=0.1)), 1.0),
    ("other settings in every run", Shop(ways=Ways(habit=0.0)), 1.0),
    ("long histories: 100 runs a process", Shop(runs=100), 0.2),
    ("fresh: falling plates, short lots", FALLING, 1.0),
    ("fresh: a threshold, seasons, luck that lasts", SEASONED, 1.0),
    ("fresh: Preston's law, no tails, long lots", PLAIN, 1.0),
)
HEAD = """# Campaign: predicting the rate of the next run

Made by `./dev campaign rates` at commit {commit}: {labs} seeded labs a row (three times as many in the first, a fifth in the last), four processes of 20 runs each unless said, walked through run by run; {seconds:.0f} s on one core.
The laws of the labs are not the program's: exponents 0.63 to 1.07 and a speed that loses its grip, a pad that falls to a floor, slurry that wears by a power of its hours, plates that wander and jump at dressings nobody wrote down, lots of 5 to 14 runs, scatter as Student t with 5 degrees of freedom, one run in a hundred at 60 %.
Three fresh shops by laws that nothing of the program was ever adjusted to stand at the end: pressure to the power 0.5 to 0.65 with speed above one, plates that lose 0.8 % a run until dressed, lots of 2 to 4 runs at 8 %, tails of 3 degrees of freedom; a threshold of 3 kPa under a power above one, seasons of ± 5 % and luck that stays with the next run; Preston's law itself with scatter of 9 %, no tails, and lots of 15 to 29 runs at 10 %.
Their levels lie off the library's by a factor of 1.6 (standard deviation); pressure and speed are the usual ones in 70 % of the runs, else any of three each.

Errors are medians of |ln(rate / predicted)|.
*Law* knows the law of every process with all its constants, but neither lots nor plates.
The *oracle* knows the law, too, and follows plates and lots with their true spreads; the *all-knowing* one knows every lot and plate before the run, so that only the run's own luck is left: nobody can reach it where a new lot or a dressing comes in between.
*Last* expects the last run's rate of the same process again; *last, by Preston* scales it by pressure and speed.

## Coverage

Share of runs inside their 90 % interval, from the third run of a process on; and by the runs before.

| shop | runs | from the third | 2 to 4 before | 5 to 9 | 10 to 19 | 20 and more |
| --- | --- | --- | --- | --- | --- | --- |
"""


def main(arguments):
    """Every shop, and both tables."""
    labs = int(arguments[0]) if arguments else 100
    library, begun = load(), time.perf_counter()
    found = [
        (name, imagined_labs(library, labs=max(1, round(share * labs)), shop=shop, seed=20_261_132))
        for name, shop, share in SHOPS
    ]
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=True, cwd=ROOT
    ).stdout.strip()
    text = HEAD.format(commit=commit, labs=labs, seconds=time.perf_counter() - begun)
    text += "".join(_coverage(name, one) for name, one in found)
    text += "\n## Errors after five runs of the same process\n\n"
    text += "| shop | learned | law | oracle | all-knowing | last | last, by Preston | library | over law | over oracle | over last | over library |\n"
    text += "| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n"
    text += "".join(_errors(name, one) for name, one in found)
    (ROOT / "docs" / "reference" / "campaign-rates.md").write_text(text, encoding="utf-8")
    print(text)
    return 0


def _coverage(name, one):
    cells = [str(one.earlier.size), f"{100 * one.inside[one.from_run(2)].mean():.1f} %"]
    for low, high in ((2, 5), (5, 10), (10, 20), (20, 10_000)):
        some = (one.earlier >= low) & (one.earlier < high)
        cells.append(f"{100 * one.inside[some].mean():.1f} %" if some.any() else "–")
    return f"| {name} | {' | '.join(cells)} |\n"


def _errors(name, one):
    some = one.from_run(5)
    columns = (one.learned, one.law, one.oracle, one.all_knowing, one.last, one.last_by_preston, one.library)
    errors = [float(np.median(column[some])) for column in columns]
    cells = [f"{100 * error:.1f} %" for error in errors]
    cells += [f"{errors[0] / errors[place]:.2f}" for place in (1, 2, 4, 6)]
    return f"| {name} | {' | '.join(cells)} |\n"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
