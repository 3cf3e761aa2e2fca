"""The further numbers of the same published examples: every wafer, every sum, every row that a source prints.

`checks_studies`, `checks_charts` and `checks_uncertainty` hold the headline of each example; here stands the rest.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from lapwright.formats.budget_toml import budget_from_dict
from lapwright.metrology import control_charts as charts
from lapwright.metrology.capability import capability_indices
from lapwright.metrology.chart_setup import autocorrelation
from lapwright.metrology.gauge_checks import bias_study
from lapwright.metrology.gauge_study import crossed_study, range_study
from lapwright.metrology.nested_study import nested_study, summarised_study
from lapwright.process.decisions import guard_band
from lapwright.testing.checks_charts import series
from lapwright.testing.checks_uncertainty import drawn, worked
from lapwright.testing.published_check import Check
from lapwright.testing.tables import codes, numbers, published_table

#: Tenths about which the nine groups of the Simon and Lesage sets lie.
_TENTHS = (4, 3, 5, 3, 5, 3, 5, 3, 5)
#: Constant before the point, readings a group, digits that double precision leaves.
_LEVELS = {
    "SmLs01": (1, 21, 12.0), "SmLs02": (1, 201, 12.0), "SmLs03": (1, 2001, 11.0),
    "SmLs04": (1_000_000, 21, 9.0), "SmLs05": (1_000_000, 201, 9.0), "SmLs06": (1_000_000, 2001, 8.0),
    "SmLs07": (1_000_000_000_000, 21, 2.5), "SmLs08": (1_000_000_000_000, 201, 2.5),
    "SmLs09": (1_000_000_000_000, 2001, 2.3),
}  # fmt: skip


def detail_checks(data: Path) -> Iterator[Check]:
    """All of them, in the order of their sources."""
    yield from _hard_anova(data)
    yield from _resistivity_by_wafer(data)
    yield from _wirings(data)
    yield from _film(data)
    yield from _crossed(data)
    yield from _series_points(data)
    yield from _capability()
    yield from _impedance(data)
    yield from _decisions()


def leading_digits(name: str) -> tuple[np.ndarray, np.ndarray]:
    """A Simon and Lesage set: values and groups. In each group its centre once, then 0.1 below and above by turns."""
    base, count, _ = _LEVELS[name]
    values = [
        float(f"{base}.{tenth + (0 if place == 0 else -1 if place % 2 else 1)}")
        for tenth in _TENTHS
        for place in range(count)
    ]
    return np.array(values), np.repeat(np.arange(9), count)


# ----------------------------------------------------------------------------------------------------------------------


def _check(key: str, what: str, published: float, computed: float | None, needed: float) -> Check:
    ours = math.nan if computed is None else float(computed)
    return Check(key=key, what=what, published=published, computed=ours, needed=needed)


def _hard(what: str, certified: float, computed: float | None, needed: float) -> Check:
    ours = math.nan if computed is None else computed
    return Check(key="nist_strd", what=what, published=certified, computed=ours, needed=needed, by_processor=True)


def _handbook(what: str, published: float, computed: float | None, digits: float) -> Check:
    """`digits` are the decimals printed: half a unit of the last one may be missing."""
    needed = math.log10(abs(published) / (0.51 * 10.0**-digits))
    return _check("nist_handbook", what, published, computed, math.floor(10.0 * needed) / 10.0)


def _hard_anova(data: Path) -> Iterator[Check]:
    table = published_table(data / "nist_strd_atmwtag.csv")
    found = nested_study(numbers(table["weight"]), levels=(("instrument", codes(table["instrument"])),))
    yield _hard("AtmWtAg, F", 15.9467335677930, found.anova[0].f, 8.0)
    for name, (_, count, needed) in _LEVELS.items():
        values, groups = leading_digits(name)
        found = nested_study(values, levels=(("group", groups),))
        yield _hard(f"{name}, F", float(count), found.anova[0].f, needed)
    beam = numbers(published_table(data / "nist_lew_beam_deflection.csv")["deflection"])
    yield _handbook("Lew, mean", -177.4350, float(beam.mean()), 4)
    yield _handbook("Lew, deviation", 277.3322, float(beam.std(ddof=1)), 4)
    yield _handbook("Lew, autocorrelation", -0.31, autocorrelation(beam).coefficient, 2)


def _resistivity_by_wafer(data: Path) -> Iterator[Check]:
    """Handbook 2.6.1: probe 2362, run by run and wafer by wafer."""
    table = published_table(data / "nist_mpc61_gauge_study.csv")
    average, deviation = numbers(table["average"]), numbers(table["stddev"])
    run, wafer, probe = (np.array(table[name]) for name in ("run", "wafer", "probe"))
    printed = {
        "1": (0.06751, 0.03334, (95.09282, 99.30595, 96.03573, 101.06022, 94.21482),
              (0.03594, 0.04722, 0.02728, 0.02319, 0.02744), (-0.0372, -0.0094, -0.0261, -0.0252, -0.0383)),
        "2": (0.07786, 0.03879, (95.12427, 99.30978, 96.07653, 101.07900, 94.24377),
              (0.04532, 0.02147, 0.02756, 0.05369, 0.03698), (-0.0508, -0.0657, -0.0398, -0.0534, -0.0469)),
    }  # fmt: skip
    wafers = ("138", "139", "140", "141", "142")
    for number, (pooled, days, means, spreads, biases) in printed.items():
        mine = (probe == "2362") & (run == number)
        levels = (("wafer", codes(wafer[mine].tolist())),)
        first, second = summarised_study(average[mine], deviation[mine], repeats=6, levels=levels)
        yield _handbook(f"resistivity, run {number}, repeatability", pooled, first.deviation, 5)
        yield _handbook(f"resistivity, run {number}, day to day", days, second.deviation, 5)
        for name, mean, spread, bias in zip(wafers, means, spreads, biases, strict=True):
            read = average[mine & (wafer == name)]
            yield _handbook(f"resistivity, run {number}, wafer {name}, mean", mean, float(read.mean()), 5)
            yield _handbook(f"resistivity, run {number}, wafer {name}, deviation", spread, float(read.std(ddof=1)), 5)
            others = [average[(run == number) & (wafer == name) & (probe == one)].mean() for one in np.unique(probe)]
            found = float(read.mean() - np.mean(others))
            yield _handbook(f"resistivity, run {number}, wafer {name}, bias of the probe", bias, found, 4)
    differences = (-0.03145, -0.00383, -0.04080, -0.01878, -0.02895)
    for name, printed_difference in zip(wafers, differences, strict=True):
        mine = (probe == "2362") & (wafer == name)
        found = float(average[mine & (run == "1")].mean() - average[mine & (run == "2")].mean())
        yield _handbook(f"resistivity, wafer {name}, run 1 less run 2", printed_difference, found, 5)


def _wirings(data: Path) -> Iterator[Check]:
    """Handbook 2.6.3.1 and 2.5.3.2: two wirings of a probe."""
    table = published_table(data / "nist_check_std_wiring_2362.csv")
    for what, pair, printed in (
        ("before", ("a1", "b1"), (-0.0086, 0.0242, -1.94)),
        ("after", ("a2", "b2"), (-0.0119, 0.0354, -1.84)),
    ):
        found = bias_study(numbers(table[pair[0]]) - numbers(table[pair[1]]), reference=0.0)
        yield _handbook(f"two wirings, {what}, mean", printed[0], found.bias, 4)
        yield _handbook(f"two wirings, {what}, deviation", printed[1], found.deviation, 4)
        yield _handbook(f"two wirings, {what}, t", printed[2], found.t, 2)
    table = published_table(data / "nist_mpc536_wiring_difference.csv")
    for column, printed in (("d_run1", (-0.00383, 0.00514, -4.0)), ("d_run2", (0.00489, 0.00400, 6.6))):
        found = bias_study(numbers(table[column]), reference=0.0)
        yield _handbook(f"second probe, {column[-4:]}, mean", printed[0], found.bias, 5)
        # the print is cut, not rounded
        yield _check("nist_handbook", f"second probe, {column[-4:]}, deviation", printed[1], found.deviation, 2.9)
        yield _handbook(f"second probe, {column[-4:]}, t", printed[2], found.t, 1)


def _film(data: Path) -> Iterator[Check]:
    """Handbook 3.5.1: the rows of the nested analysis (sums recomputed to the digits shown)."""
    table = published_table(data / "nist_furnace_oxide_thickness.csv")
    value = numbers(table["thickness_A"])
    found = nested_study(value, levels=tuple((name, codes(table[name])) for name in ("run", "zone")))
    run, location, within = found.anova
    for what, printed, computed, decimals in (
        ("sum of squares, run", 61442.29, run.sum_of_squares, 2),
        ("mean square, run", 3072.11, run.mean_square, 2),
        ("sum of squares, location", 36014.5, location.sum_of_squares, 1),
        ("sum of squares, within", 10155.0, within.sum_of_squares, 1),
        ("mean", 563.0357, found.mean, 4),
        ("deviation of all", 25.3847, float(value.std(ddof=1)), 4),
        ("percent of variance, run", 47.44, 100.0 * found.components["run"] / sum(found.components.values()), 2),
        ("percent of variance, location", 34.21, 100.0 * found.components["zone"] / sum(found.components.values()), 2),
    ):
        yield _handbook(f"film thickness, {what}", printed, computed, decimals)


def _crossed(data: Path) -> Iterator[Check]:
    table = published_table(data / "grr_crossed_10x3x3.csv")
    value, part, operator = numbers(table["y"]), codes(table["part"]), codes(table["operator"])
    found = crossed_study(value, part=part, operator=operator)
    ratio = {row.source: row.f for row in found.anova}
    ranges = range_study(value, part=part, operator=operator, factors=(0.5908, 0.5231, 0.3146))
    whole = ranges.total
    for what, published, computed, needed in (
        ("crossed study, F of operator", 79.41, ratio["operator"], 4.2),
        ("crossed study, F of part", 492.29, ratio["part"], 5.0),
        ("crossed study, F of interaction", 0.434, ratio["interaction"], 2.9),
        ("crossed study, sum of squares, all", 94.64711, sum(row.sum_of_squares for row in found.anova), 7.0),
        ("crossed study, total variation (TV)", 1.0853, found.total, 4.3),
        ("averages and ranges, percent EV", 17.62, 100.0 * ranges.repeatability / whole, 3.2),
        ("averages and ranges, percent AV", 20.04, 100.0 * ranges.reproducibility / whole, 3.6),
        ("averages and ranges, percent GRR", 26.68, 100.0 * ranges.gauge / whole, 3.7),
        ("averages and ranges, percent PV", 96.38, 100.0 * ranges.part / whole, 4.2),
    ):
        yield _check("msa2010", what, published, computed, needed)
    table = published_table(data / "grr_crossed_20x3x2.csv")
    value = numbers(table["y"])
    found = crossed_study(value, part=codes(table["part"]), operator=codes(table["operator"]))
    rows = {row.source: row for row in found.anova}
    for what, published, computed, needed in (
        ("sum of squares, all", 1274.592, sum(row.sum_of_squares for row in found.anova), 6.0),
        ("mean square, part", 62.391, rows["part"].mean_square, 5.0),
        ("mean square, operator", 1.308, rows["operator"].mean_square, 3.5),
        ("mean square, interaction", 0.712, rows["interaction"].mean_square, 3.4),
        ("mean square, error", 0.992, rows["repeatability"].mean_square, 3.3),
        ("F of part", 87.65, rows["part"].f, 4.2),
        ("F of operator", 1.84, rows["operator"].f, 2.5),
        ("F of interaction", 0.72, rows["interaction"].f, 2.1),
        ("p of operator", 0.173, rows["operator"].p, 3.5),
        ("p of interaction", 0.861, rows["interaction"].p, 3.2),
        ("mean of all readings", 22.39167, float(value.mean()), 6.0),
    ):
        yield _check("montgomery_grr", f"crossed study, {what}", published, computed, needed)


def _series_points(data: Path) -> Iterator[Check]:
    """Every printed point of the EWMA and the sums of the CUSUM; of each the one that agrees least."""
    ewma = charts.ewma_chart(series(data, "nist_ewma"), weight=0.3, target=50.0, sigma=2.0539)
    printed = (50.00, 50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05,
               49.38, 49.92, 50.73, 51.23, 51.94, 51.99)  # fmt: skip
    yield _worst("EWMA, 21 points, the worst", printed, ewma.points.tolist(), 2)
    upper, lower = charts.cusum_chart(
        series(data, "nist_cusum"), target=325.0, sigma=1.0, reference=0.3175, decision=4.1959
    )
    sums = (3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04)
    yield _worst("CUSUM, upper sums from reading 13, the worst", sums, upper.points[12:20].tolist(), 2)
    below = {2: 0.01, 4: 0.33, 7: 0.56, 8: 0.72, 9: 0.17, 10: 0.25, 11: 0.31}
    reached = [float(lower.points[reading - 1]) for reading in below]
    yield _worst("CUSUM, lower sums, the worst", tuple(below.values()), reached, 2)
    counts = charts.count_chart(numbers(published_table(data / "nist_counts_chart.csv")["defects"]))
    yield _handbook("counts, centre", 16.0, counts.centre, 1)


def _worst(what: str, printed: tuple[float, ...], computed: list[float], decimals: int) -> Check:
    one, ours = max(zip(printed, computed, strict=True), key=lambda pair: abs(pair[0] - pair[1]))
    return _handbook(what, one, ours, decimals)


def _capability() -> Iterator[Check]:
    indices = capability_indices(16.0, 2.0, lower=8.0, upper=20.0, target=14.0)
    yield _handbook("capability, Cpu", 0.6667, indices.cpu, 4)
    yield _handbook("capability, Cpm", 0.7071, indices.cpm, 4)
    for ratio, share, decimals in ((1.0, 0.0027, 4), (1.66, 0.6e-6, 7), (2.0, 2e-9, 9)):
        found = capability_indices(0.0, 1.0, lower=-3.0 * ratio, upper=3.0 * ratio)
        yield _handbook(f"capability {ratio:g}, share outside", share, found.outside, decimals)


def _impedance(data: Path) -> Iterator[Check]:
    """JCGM 100 H.2: reactance and impedance from the same readings, and how the three results go together."""
    content = tomllib.loads((data / "jcgm100_h2.toml").read_text(encoding="utf-8"))
    models = {"R": "voltage / current * cos(phase)", "X": "voltage / current * sin(phase)", "Z": "voltage / current"}
    files = {name: budget_from_dict({**content, "model": model}, name=name) for name, model in models.items()}
    found = {name: worked(file) for name, file in files.items()}
    for what, name, value, spread in (("reactance", "X", 219.847, 0.295), ("impedance", "Z", 254.260, 0.236)):
        yield _check("jcgm100", f"H.2 {what}", value, found[name][1].value, 5.5)
        yield _check("jcgm100", f"H.2 {what}, standard uncertainty", spread, found[name][1].standard_uncertainty, 2.5)
    slopes = {name: np.array([line.effect for line in budget.contributions]) for name, (budget, _) in found.items()}
    together = np.array(found["R"][0].correlation)
    for one, other, printed in (("R", "X", -0.588), ("R", "Z", -0.485), ("X", "Z", 0.993)):
        spread = found[one][1].standard_uncertainty * found[other][1].standard_uncertainty
        shared = float(slopes[one] @ together @ slopes[other]) / spread
        yield _check("jcgm100", f"H.2 correlation of {one} and {other}", printed, shared, 2.9)
    names = ("voltage", "current", "phase")
    for i, j, printed in ((0, 1, -0.36), (0, 2, 0.86), (1, 2, -0.65)):
        yield _check("jcgm100", f"H.2 correlation of {names[i]} and {names[j]}", printed, float(together[i, j]), 1.8)
    mass = budget_from_dict(tomllib.loads((data / "jcgm101_9_3.toml").read_text(encoding="utf-8")), name="9.3")
    yield _check("jcgm101", "9.3 first order, mg", 0.0539, worked(mass)[1].standard_uncertainty, 2.9)
    shortest = drawn(mass).shortest
    yield _check("jcgm101", "9.3 shortest 95 % interval, low end, mg", 1.0834, shortest[0], 2.4)
    yield _check("jcgm101", "9.3 shortest 95 % interval, high end, mg", 1.3825, shortest[1], 2.4)


def _decisions() -> Iterator[Check]:
    """JCGM 106: acceptance limit of 8.3.3.2, and the usual guard bands in standard uncertainties."""
    speed = 100.0 / (1.0 - guard_band(0.02, false_accept=0.001))
    yield _check("jcgm106", "8.3.3.2 speed acted on from, km/h", 107.0, speed, 2.3)
    yield _check("jcgm106", "guard band for 95 %, in u", 1.6449, guard_band(1.0, false_accept=0.05), 4.0)
    yield _check("jcgm106", "guard band for 97.725 %, in u", 2.0, guard_band(1.0, false_accept=0.0227501), 4.5)
