"""Campaign of quotations and of a year: do quotes hold, and does the loop of measure, route, run and learn believe right.

Usage: campaign_year.py [SHOPS [JOBS [WAFERS]]]. Writes a report to docs/reference/campaign-year.md.
With ``quotes`` before the numbers only the part on quotations is made anew.
"""

import math
import subprocess
import sys
from pathlib import Path

from lapwright.testing.year_campaign import PIECES, RUNS_BEFORE, TARGET, quoted_shops, year

ROOT = Path(__file__).parents[2]
SEED, QUOTE_SEED = 20_261_128, 20_261_201
QUARTERS = 4
OWN = (60, 12, 0)  # finished wafers behind a quotation: a thick record, a thin one, none
YEAR = "## A year with no hand in it"


def main(arguments):
    """Quoted jobs, then the year with learning and without."""
    report = ROOT / "docs" / "reference" / "campaign-year.md"
    only_quotes = arguments[:1] == ["quotes"]
    told = arguments[1:] if only_quotes else arguments
    shops, jobs, wafers = (int(text) for text in (*told, *("30", "20", "156")[len(told) :]))
    lines = [*_head(), *_quotes(shops, jobs)]
    last = YEAR + report.read_text(encoding="utf-8").split(YEAR)[1] if only_quotes else "\n".join(_year(wafers)) + "\n"
    text = "\n".join(lines) + "\n" + last
    report.write_text(text, encoding="utf-8")
    print(text)
    return 0


def _quotes(shops, jobs):
    rows = [
        "## Quotes",
        "",
        (
            f"At commit {_commit()}: {3 * shops} shops, each with {RUNS_BEFORE} runs of every tool behind it, quoted for"
            f" {PIECES} pieces of one of"
        ),
        f"three orders; {jobs} jobs in each, worked to the end, with one day's luck for all wafers of a job.",
        "The error is that between shops: the jobs of one share its quotation.",
        "",
    ]
    for own in OWN:
        found = quoted_shops(shops=shops, jobs=jobs, seed=QUOTE_SEED, own_wafers=own)
        rows += _table(found, f"{own} finished wafers of its own behind yield and hands" if own else "No own wafer yet")
    rows += [
        "Stops and wedges scatter in each shop as its hands are; the planner knows of them what its own wafers showed.",
        "The chance of the route counts for the more wafers the better these are known: seven without records.",
        "",
    ]
    return rows


def _table(found, title):
    jobs = sum(len(one.costs) for one in found)
    delivered = sum(one.delivered for one in found) / jobs
    stated = sum(one.chance_of_enough for one in found) / len(found)
    started = " to ".join(
        str(one) for one in sorted({min(one.started for one in found), max(one.started for one in found)})
    )
    return [
        f"| {title} | wanted | LiTaO3 | Si | GaAs | all |",
        "| --- | --- | --- | --- | --- | --- |",
        _line("cost inside the 90 % interval", "87-93 %", found, lambda one, cost, _t: _in(one.low, cost, one.high)),
        _line("time inside the 90 % interval", "87-93 %", found,
              lambda one, _cost, time: _in(one.time_low, time, one.time_high)),
        _line("cost within the 50 % price", "50 %", found, lambda one, cost, _time: cost <= one.even),
        _line("cost within the 90 % price", "90 %", found, lambda one, cost, _time: cost <= one.sure),
        "",
        (f"{started} wafers started for {PIECES}: enough with {100 * stated:.1f} % as stated, and in"
        f" {100 * delivered:.1f} % of the jobs."),
        "",
    ]  # fmt: skip


def _line(name, wanted, found, holds):
    cells = []
    for order in ("LiTaO3", "Si", "GaAs", None):
        shares = [
            sum(holds(one.quoted, cost, time) for cost, time in zip(one.costs, one.times, strict=True)) / len(one.costs)
            for one in found
            if order in (one.order, None)
        ]
        mean = sum(shares) / len(shares)
        spread = math.sqrt(sum((one - mean) ** 2 for one in shares) / max(1, len(shares) - 1) / len(shares))
        cells.append(f"{100 * mean:.1f} ± {100 * spread:.1f} %")
    return f"| {name} | {wanted} | {' | '.join(cells)} |"


def _in(low, value, high):
    return low <= value <= high


def _year(wafers):
    rows = [
        YEAR,
        "",
        f"At commit {_commit()}:",
        (
            f"{wafers} wafers of three orders in turn, one shop from its first wafer on: each is routed for a chance of "
            f"{100 * TARGET:.0f} %"
        ),
        "by what the readings of the ones before have shown (rates, stops, wedges), worked, read and judged.",
        "Beside it the same shop planned by the library and usual spreads all year.",
        "",
        (
            "| quarter | chance believed | first-pass yield | rate off by (median) | time at the machine | the same, without"
            " learning: believed | yield | rate off by | time |"
        ),
        "| --- | --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    learning, without = (year(wafers=wafers, seed=SEED, learns=one) for one in (True, False))
    size = wafers // QUARTERS
    for quarter in range(QUARTERS):
        part = slice(quarter * size, (quarter + 1) * size)
        rows.append(f"| {quarter + 1} | {_cells(learning[part])} | {_cells(without[part])} |")
    rows.append(f"| all | {_cells(learning)} | {_cells(without)} |")
    return [*rows, "", "Yield: inside every limit and clear of damage, as it truly was."]


def _cells(jobs):
    count = len(jobs)
    good = sum(one.is_good for one in jobs) / count
    error = math.sqrt(good * (1.0 - good) / count)
    misses = sorted(one.rate_miss for one in jobs)
    return (
        f"{100 * sum(one.believed for one in jobs) / count:.1f} % | {100 * good:.1f} ± {100 * error:.1f} % | "
        f"{100 * (math.exp(misses[count // 2]) - 1):.0f} % | {sum(one.time for one in jobs) / count / 3600:.2f} h"
    )


def _head():
    return [
        "# Campaign: quotations, and a year of one shop",
        "",
        "Made by `./dev campaign year`, all in the simulated shop of the campaign of routes, whose laws",
        "nobody has told the planner: power laws with other exponents, heavy-tailed luck of lots, plates, days and runs,",
        "late stops, Weibull damage. Hands are quick or slow by a gamma law. Seeds on which nothing was tuned.",
        "",
    ]


def _commit():
    command = ["git", "rev-parse", "--short", "HEAD"]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout.strip()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
