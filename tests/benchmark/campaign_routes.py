"""Campaign of routes: do they hold the chance they state, and how many jobs fail by the reference practice.

Usage: campaign_routes.py [SHOPS [JOBS]]. Writes a report to docs/reference/campaign-routes.md.
With ``hands`` before the numbers only the part on what is learned of the hands is made anew.
"""

import math
import subprocess
import sys
from pathlib import Path

import numpy as np

from lapwright.sim.route_trials import (
    COMMON_FACTOR,
    FIXED_SPLIT,
    RUNS_BEFORE,
    TARGETS,
    USUAL_HANDS,
    Hands,
    campaign,
    orders,
)

ROOT = Path(__file__).parents[2]
#: Hands rougher than planning assumes.
ROUGH = {"first_stop": 3.5e-6, "finishing_stop": 1.3e-6, "wedge": 0.65e-6}
#: How many own stops of each kind the planner has seen, and as many finished wafers.
PLANNED_WITH = {"all sorts": (0, 3, 5, 10), "as assumed": (0, 10), "rough": (0, 3, 5, 10, 40)}
PART = "## What is learned of the hands"
COLUMNS = (
    "| order | jobs | chance stated | jobs that held it | held less stated | outside limits: ours | reference "
    "| outside or damaged: ours | reference |"
)
RULE = "| --- | --- | --- | --- | --- | --- | --- | --- | --- |"


def main(arguments):
    """Every order in every shop; one line an order, and one for all."""
    report = ROOT / "docs" / "reference" / "campaign-routes.md"
    if arguments[:1] == ["hands"]:
        shops, jobs = (int(text) for text in (*arguments[1:], *("20", "20")[len(arguments) - 1 :]))
        first = report.read_text(encoding="utf-8").split(PART)[0].rstrip("\n")
        text = first + "\n\n" + _hands(shops, jobs)
        report.write_text(text, encoding="utf-8")
        print(text)
        return 0
    shops, jobs = (int(text) for text in (*arguments, *("30", "20")[len(arguments) :]))
    tallies = campaign(shops=shops, jobs=jobs, seed=20_261_131)
    names = (*[order.order_id for order in orders()], "all")
    rows = [_row(name, [one for one in tallies if name in (one.order, "all")]) for name in names]
    lines = [*_head(shops, jobs), *rows]
    report.write_text("\n".join([*lines, *_tail(), "", _hands(shops, jobs)]), encoding="utf-8")
    print("\n".join(lines))
    return 0


def _hands(shops, jobs):
    """Shops of all sorts, as assumed, and rougher: planned for without and with their own results."""
    lines = [
        PART,
        "",
        f"At commit {_commit()}: three orders, {shops} shops each, {jobs} jobs a shop; other seeds than above.",
        "*All sorts*: as above. *As assumed*: the usual spreads to the last digit, which the planner cannot know.",
        "*Rough*: first stops scatter by 3.5 µm (2 usual), finishing ones by 1.3 (0.6), wedges by 0.65 each way (0.4).",
        "The planner has seen so many of its own stops of each kind, and as many finished wafers.",
        "",
        COLUMNS.replace("order", "shops, seen"),
        RULE,
    ]
    for name, hands in (("all sorts", None), ("as assumed", USUAL_HANDS), ("rough", Hands(**ROUGH))):
        for seen in PLANNED_WITH[name]:
            given = None if hands is None else Hands(**{one: getattr(hands, one) for one in ROUGH}, seen=seen)
            tallies = campaign(shops=shops, jobs=jobs, seed=20_261_132, hands=given, seen=seen)
            lines.append(_row(f"{name}, {seen or 'none'}", tallies))
    return "\n".join(lines) + "\n"


def _row(name, tallies):
    jobs = sum(one.jobs for one in tallies)
    stated = sum(one.stated * one.jobs for one in tallies) / jobs
    kept = sum(one.kept for one in tallies) / jobs
    misses = [100.0 * (one.kept / one.jobs - one.stated) for one in tallies]
    error = float(np.std(misses, ddof=1)) / math.sqrt(len(misses))
    ours, theirs = (
        1.0 - sum(getattr(one, part) for one in tallies) / jobs for part in ("in_tolerance", "reference_in_tolerance")
    )
    all_ours, all_theirs = (
        1.0 - sum(getattr(one, part) for one in tallies) / jobs for part in ("kept", "reference_kept")
    )
    return (
        f"| {name} | {jobs} | {100 * stated:.1f} % | {100 * kept:.1f} % | "
        f"{np.mean(misses):+.1f} ± {error:.1f} | {100 * ours:.1f} % | "
        f"{100 * theirs:.1f} % | {100 * all_ours:.1f} % | {100 * all_theirs:.1f} % |"
    )


def _commit():
    return subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=True, cwd=ROOT
    ).stdout.strip()


def _head(shops, jobs):
    aims = ", ".join(f"{100 * one:.0f} %" for one in TARGETS)
    return [
        "# Campaign: the chance of routes",
        "",
        f"Made by `./dev campaign routes` at commit {_commit()}: three orders, {shops} shops each, {jobs} jobs a shop.",
        f"Each shop has seen {RUNS_BEFORE} runs of every tool and takes the first route for a chance of {aims} (drawn).",
        "The laws of the shop are not those of the planner: power laws with other exponents, heavy-tailed luck and stops,",
        "Weibull damage, gamma forms, pads that start slowly and tire, lots and plates that drift.",
        f"The hands differ from shop to shop, all its spreads by up to {COMMON_FACTOR:g} times either way and each by itself, too;",
        "the planner has seen none of their stops. What it cannot know of a job is drawn anew for each.",
        "*Held less stated* is the mean over shops in points, with its standard deviation over shops.",
        "",
        COLUMNS,
        RULE,
    ]


def _tail():
    shares = " / ".join(f"{100 * share:g} %" for share in FIXED_SPLIT)
    return [
        "",
        f"Reference practice: the stock split {shares} over coarse lap, fine lap and polish, read between the stages,",
        "the preset equal to the removal wanted, the polish timed by the rate of the last run.",
        "Limits: thickness, TTV and roughness; damaged: a depth of lapping damage that the polish did not reach.",
    ]


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
