"""Campaign of seeded lapping runs: the stop against its promise, and every fault.

Usage: campaign_endpoint.py [RUNS] [--workers N] [--seed S] [--keep FOLDER] [--report FILE]

S moves all seeds, so that figures can be taken on runs that nothing was tuned on. Every 500 runs are kept in FOLDER
(build/campaign-endpoint); the same command goes on where it was broken off, with any number of workers. Writes a report
to docs/reference/campaign-endpoint.md, or to FILE.
"""

import argparse
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np

from lapwright.sim.stop_trials import upper_bound
from lapwright.testing.endpoint_bounds import best_collapse, best_collapse_learnt, false_frozen
from lapwright.testing.endpoint_campaign import RATE_HIGH, RATE_LOW, Job, kept_campaign

ROOT = Path(__file__).parents[2]
FAULTS = ("dead", "frozen", "jump_up", "jump_down", "backwards", "dry", "surge", "noisy")


def main(arguments):
    """Play everything and write the report."""
    options = read_options(arguments)
    began, kept = time.perf_counter(), len(list(options.keep.glob("*.json")))
    lines = [*_head(options), *fault_free(options), *with_faults(options), *with_bias(options)]
    took = time.perf_counter() - began
    words = f"{took:.0f} s on {options.workers} worker{'s' if options.workers > 1 else ''}"
    lines += ["", f"Whole campaign: {words}." if not kept else f"Finished in {words}; {kept} parts were kept before."]
    options.report.write_text("\n".join(lines) + "\n", encoding="utf-8")
    print("\n".join(lines))
    return 0


def read_options(arguments):
    """What the command line says."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("runs", nargs="?", type=int, default=10_000)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--keep", type=Path, default=ROOT / "build" / "campaign-endpoint")
    parser.add_argument("--report", type=Path, default=ROOT / "docs" / "reference" / "campaign-endpoint.md")
    return parser.parse_args(arguments)


def played(name, seeds, options, **job):
    """The outcomes of jobs that differ in their seeds."""
    jobs = (Job(seed=options.seed + seed, **job) for seed in seeds)
    return kept_campaign(name, jobs, folder=options.keep, workers=options.workers)


def fault_free(options):
    """Stop error and over-removal without faults, beside the two plain rules."""
    runs = options.runs
    ended = played("none", range(runs), options)
    good = [outcome for outcome in ended if outcome.advice == "stop_now"]
    error = np.array([outcome.stop_error for outcome in good])
    margin = np.array([outcome.margin for outcome in good])
    false = Counter(outcome.codes[0] for outcome in ended if outcome.advice == "stop_fault")
    lines = ["", "## Without faults", "", "| rule | over by more than 0.5 µm | 95 % bound | largest over, µm |"]
    lines.append("| --- | --- | --- | --- |")
    for name in ("over", "raw_over", "mean_over"):
        over = np.array([getattr(outcome, name) for outcome in ended])
        hits = int((over > 0.5).sum())
        title = {"over": "endpoint", "raw_over": "raw reading crosses", "mean_over": "mean of 5 s crosses"}[name]
        lines.append(f"| {title} | {hits} of {runs} | {100 * upper_bound(hits, runs):.3f} % | {over.max():+.2f} |")
    outside = int((np.abs(error) > 0.5).sum())
    return [
        *lines,
        "",
        f"End of the run against target less margin: {100 * (1 - outside / len(good)):.3f} % within ±0.5 µm.",
        f"Its standard deviation is {error.std():.3f} µm, the largest error {np.abs(error).max():.2f} µm.",
        f"Margin: median {np.median(margin):.2f} µm, 95th percentile {np.percentile(margin, 95):.2f} µm.",
        (
            f"False fault stops: {sum(false.values())} of {runs}, {100 * sum(false.values()) / runs:.2f} %"
            f"{': ' + _counted(false) if false else ''}."
        ),
    ]


def with_faults(options):
    """Every planted fault: what was said, how late, how far over."""
    each = max(1, options.runs // len(FAULTS))
    lines = ["", "## With planted faults", ""]
    lines.append(
        "| planted | runs | stopped for | delay, s: median, 95 %, largest | largest over, µm | over by > 2 µm |"
    )
    lines.append("| --- | --- | --- | --- | --- | --- |")
    told = {"dry": dry_words, "frozen": frozen_words}
    words = []
    for number, fault in enumerate(FAULTS):
        first = 10_000_000 * (number + 1)
        ended = played(fault, range(first, first + each), options, fault=fault)
        over = np.array([outcome.over for outcome in ended])
        delay = np.percentile([o.delay for o in ended if o.advice == "stop_fault"], [50, 95, 100])
        codes = Counter(outcome.codes[0] if outcome.codes else "at the target" for outcome in ended)
        hits = int((over > 2.0).sum())
        shown = ", ".join(f"{value:.1f}" for value in delay)
        lines.append(f"| {fault} | {each} | {_counted(codes)} | {shown} | {over.max():+.2f} | {hits} |")
        if fault in told:
            words += ["", *told[fault](ended)]
    return [*lines, *words]


def dry_words(ended):
    """How soon dry slurry is named, rate by rate, beside the best that can be."""
    lines = [
        "Slurry run dry, named `run.rate_collapse`, beside the best detectors there can be: one that is told rate, moment",
        "and course beforehand, and one that must learn the rate while it wanders by 2.5 % a minute (see",
        "{doc}`../explanation/when-to-stop`). In brackets ours over theirs.",
        "",
        (
            "| rate, µm/min | runs | s after the drip stopped: median, 95 %, largest | µm missing: median, 95 % "
            "| told everything: half, 95 % | learning the rate: half, 95 % |"
        ),
    ]
    lines.append("| --- | --- | --- | --- | --- | --- |")
    for low, high in ((2.0, 3.0), (3.0, 5.0), (5.0, 10.0), (2.0, 10.0)):
        named = [o for o in ended if low <= o.rate < high and o.codes[:1] == ("run.rate_collapse",)]
        if not named:
            continue
        late = np.percentile([o.delay for o in named], [50, 95, 100])
        missing = np.percentile([o.missing for o in named], [50, 95])
        middle = float(np.exp(np.mean(np.log([o.rate for o in named]))))
        told, learnt = (
            ", ".join(
                f"{best:.2f} ({ours / best:.1f})"
                for ours, best in zip(missing, (bound(middle, 0.5)[1], bound(middle, 0.95)[1]), strict=True)
            )
            for bound in (best_collapse, best_collapse_learnt)
        )
        lines.append(
            f"| {low:g} to {high:g} | {len(named)} | {late[0]:.0f}, {late[1]:.0f}, {late[2]:.0f} "
            f"| {missing[0]:.2f}, {missing[1]:.2f} | {told} | {learnt} |"
        )
    return lines


def frozen_words(ended):
    """How soon a frozen gauge is named, and what that costs at least."""
    late = [o.delay for o in ended if o.delay > (5.0 if o.rate >= 5.0 else max(8.0, 180.0 / o.rate))]
    fast = [o.delay for o in ended if o.rate >= 5.0]
    rates = np.exp(np.linspace(np.log(5.0), np.log(RATE_HIGH * 6e7), 21))
    share = np.log(rates[-1] / 5.0) / np.log(RATE_HIGH / RATE_LOW)
    least = 100.0 * share * np.mean([false_frozen(rate) for rate in rates])
    return [
        (
            "A frozen gauge was named within 5 s at 5 µm/min or more, within max(8 s, 3 · resolution / rate) below, in "
            f"{100 * (1 - len(late) / len(ended)):.1f} % of the runs; the latest at 5 µm/min or more took {max(fast):.1f} s."
        ),
        (
            "Whoever names them all in 5 s stops a run without a fault for each row of 25 equal readings, at these rates "
            f"{least:.2f} % of the runs."
        ),
    ]


def with_bias(options):
    """What the gauge cannot tell: drift, film step, foot wear; the interval must hold the truth all the same."""
    runs = options.runs // 10
    cases = (
        ("thermal drift up to 2 µm", {"drift": 2e-6}),
        ("film step, standard uncertainty 0.5 µm", {"film": 1e-6}),
        ("foot wear 3 %, known to a third", {"wear": 0.03}),
        ("all three, warm-up in 5 minutes", {"drift": 2e-6, "film": 1e-6, "wear": 0.03, "warm_up": True}),
    )
    lines = ["", "## What the gauge cannot tell from removal", ""]
    lines.append(
        "| gauge | runs | truth inside the 90 % interval | over by > 0.5 µm | median margin, µm | false faults |"
    )
    lines.append("| --- | --- | --- | --- | --- | --- |")
    for number, (name, wrong) in enumerate(cases):
        seeds = range(900_000_000 + number * runs, 900_000_000 + (number + 1) * runs)
        ended = played(f"bias{number}", seeds, options, **wrong)
        good = [outcome for outcome in ended if outcome.advice == "stop_now"]
        inside = 100 * np.mean([outcome.inside_interval for outcome in good])
        over = sum(outcome.over > 0.5 for outcome in ended)
        margin = np.median([outcome.margin for outcome in good])
        false = Counter(outcome.codes[0] for outcome in ended if outcome.advice == "stop_fault")
        lines.append(f"| {name} | {runs} | {inside:.1f} % | {over} | {margin:.2f} | {_counted(false) or 'none'} |")
    return lines


def _head(options):
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout.strip()
    return [
        "# Campaign: the stop of a lapping run",
        "",
        (
            f"Made by `./dev campaign endpoint {options.runs} --seed {options.seed}` at commit {commit}: "
            f"{options.runs} seeded runs without a fault and as many with."
        ),
        "Gauge noise 0.5 µm, resolution 1 µm, 5 readings a second, rates 0.5 to 10 µm/min, latency 1 s.",
        "One reading in a thousand is wild; now and then 2 s are missing.",
        "All figures are relative to an ideal zero unless a row says otherwise; no certificate may quote them.",
    ]


def _counted(codes):
    return ", ".join(f"{code} {count}" for code, count in codes.most_common())


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
