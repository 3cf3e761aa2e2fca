"""Campaign of routes: do they hold the chance they state, and how many jobs fail by the reference practice.

Usage: campaign_routes.py [SHOPS [JOBS]]. Writes a report to docs/reference/campaign-routes.md.
With ``hands`` before the numbers only the part on rough hands is made anew.
"""

import math
import subprocess
import sys
from pathlib import Path

from lapwright.sim.route_trials import FIXED_SPLIT, RUNS_BEFORE, TARGETS, Hands, campaign, orders

ROOT = Path(__file__).parents[2]
#: Hands rougher than planning assumes, and how many own stops of each kind the planner has seen.
ROUGH = {"first_stop": 3.5e-6, "finishing_stop": 1.3e-6, "wedge": 0.65e-6}
SEEN = (0, 10, 40)
PART = "## Rough hands"
COLUMNS = (
    "| order | jobs | chance stated | jobs that held it | outside limits: ours | reference "
    "| outside or damaged: ours | reference |"
)


def main(arguments):
    """Every order in every shop; one line an order, and one for all."""
    report = ROOT / "docs" / "reference" / "campaign-routes.md"
    if arguments[:1] == ["hands"]:
        shops, jobs = (int(text) for text in (*arguments[1:], *("6", "40")[len(arguments) - 1 :]))
        first = report.read_text(encoding="utf-8").split(PART)[0].rstrip("\n")
        text = first + "\n\n" + _rough(shops, jobs)
        report.write_text(text, encoding="utf-8")
        print(text)
        return 0
    shops, jobs = (int(text) for text in (*arguments, *("30", "20")[len(arguments) :]))
    tallies = campaign(shops=shops, jobs=jobs, seed=20_261_126)
    names = (*[order.order_id for order in orders()], "all")
    rows = [_row(name, [one for one in tallies if name in (one.order, "all")]) for name in names]
    lines = [*_head(shops, jobs), *rows]
    report.write_text("\n".join([*lines, *_tail(), "", _rough(6, 40)]), encoding="utf-8")
    print("\n".join(lines))
    return 0


def _rough(shops, jobs):
    """Shops whose stops and wedges are rougher than assumed, planned for without and with their own results."""
    lines = [
        PART,
        "",
        f"At commit {_commit()}: three orders, {shops} shops each, {jobs} jobs a shop, whose first stops scatter by 3.5 µm",
        "(2 assumed), finishing stops by 1.3 µm (0.6) and wedges by 0.65 µm each way (0.4).",
        "The planner has seen so many of its own stops of each kind, and as many finished wafers.",
        "",
        COLUMNS.replace("order", "seen"),
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for seen in SEEN:
        tallies = campaign(shops=shops, jobs=jobs, seed=20_261_127, hands=Hands(seen=seen, **ROUGH))
        lines.append(_row("none" if not seen else str(seen), tallies))
    return "\n".join(lines) + "\n"


def _row(name, tallies):
    jobs = sum(one.jobs for one in tallies)
    stated = sum(one.stated * one.jobs for one in tallies) / jobs
    kept = sum(one.kept for one in tallies) / jobs
    error = math.sqrt(kept * (1.0 - kept) / jobs)
    ours, theirs = (
        1.0 - sum(getattr(one, part) for one in tallies) / jobs for part in ("in_tolerance", "reference_in_tolerance")
    )
    all_ours, all_theirs = (
        1.0 - sum(getattr(one, part) for one in tallies) / jobs for part in ("kept", "reference_kept")
    )
    return (
        f"| {name} | {jobs} | {100 * stated:.1f} % | {100 * kept:.1f} ± {100 * error:.1f} % | {100 * ours:.1f} % | "
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
        "The sizes of the spreads are those the planner is told; what it cannot know is drawn anew for each job.",
        "",
        COLUMNS,
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
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
