"""Regressions, series, gauge studies and nested studies against published numbers."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from lapwright.metrology.chart_setup import autocorrelation
from lapwright.metrology.gauge_checks import bias_study
from lapwright.metrology.gauge_study import CrossedStudy, crossed_study, range_study
from lapwright.metrology.nested_study import nested_study, pooled_deviation, summarised_study
from lapwright.metrology.regression import Fit, linear_fit, polynomial_fit
from lapwright.metrology.uncertainty import Budget, Contribution, combined_uncertainty
from lapwright.testing.published_check import Check
from lapwright.testing.tables import codes, numbers, published_table


def regression_checks(data: Path) -> Iterator[Check]:
    """NIST StRD linear regression: Norris, Filip, Longley."""
    norris = published_table(data / "nist_strd_norris.csv")
    fit = linear_fit(numbers(norris["x"])[:, None], numbers(norris["y"]))
    yield from _fit_checks("Norris", fit, [-0.262323073774029, 1.00211681802045], 12)
    for what, certified, found in (
        ("deviation of B0", 0.232818234301152, fit.deviations[0]),
        ("deviation of B1", 0.000429796848199937, fit.deviations[1]),
        ("residual deviation", 0.884796396144373, fit.residual_deviation),
        ("R²", 0.999993745883712, fit.r_squared),
        ("F", 5436385.54079785, fit.f or math.nan),
    ):
        yield _strd(f"Norris, {what}", certified, found, 12)
    filip = published_table(data / "nist_strd_filip.csv")
    fit = polynomial_fit(numbers(filip["x"]), numbers(filip["y"]), degree=10)
    certified_filip = [
        -1467.48961422980, -2772.17959193342, -2316.37108160893, -1127.97394098372, -354.478233703349,
        -75.1242017393757, -10.8753180355343, -1.06221498588947, -0.0670191154593408, -0.00246781078275479,
        -0.0000402962525080404,
    ]  # fmt: skip
    yield from _fit_checks("Filip", fit, certified_filip, 9)
    yield _strd("Filip, residual deviation", 0.00334801051324544, fit.residual_deviation, 9)
    yield _strd("Filip, R²", 0.996727416185620, fit.r_squared, 9)
    longley = published_table(data / "nist_strd_longley.csv")
    columns = np.column_stack([numbers(longley[name]) for name in ("x1", "x2", "x3", "x4", "x5", "x6")])
    fit = linear_fit(columns, numbers(longley["y"]))
    certified_longley = [
        -3482258.63459582, 15.0618722713733, -0.0358191792925910, -2.02022980381683, -1.03322686717359,
        -0.0511041056535807, 1829.15146461355,
    ]  # fmt: skip
    yield from _fit_checks("Longley", fit, certified_longley, 10)
    yield _strd("Longley, residual deviation", 304.854073561965, fit.residual_deviation, 10)
    yield _strd("Longley, R²", 0.995479004577296, fit.r_squared, 10)


def series_checks(data: Path) -> Iterator[Check]:
    """NIST StRD univariate: mean, deviation, first autocorrelation."""
    michelso = numbers(published_table(data / "nist_strd_michelso.csv")["c"])
    yield from _series("Michelso", michelso, (299.8524, 0.0790105478190518, 0.535199668621283), 9)
    yield from _series("NumAcc1", np.array([10000001.0, 10000003.0, 10000002.0]), (10000002.0, 1.0, -0.5), 12)
    steps = np.concatenate(([10000000.2], np.tile([10000000.1, 10000000.3], 500)))
    yield from _series("NumAcc4", steps, (10000000.2, 0.1, -0.999), 8)


def anova_checks(data: Path) -> Iterator[Check]:
    """NIST StRD one-way analysis of variance: SiRstv."""
    table = published_table(data / "nist_strd_sirstv.csv")
    found = nested_study(numbers(table["resistance"]), levels=(("instrument", codes(table["instrument"])),))
    between, within = found.anova
    for what, certified, computed in (
        ("between, sum of squares", 5.11462616000000e-02, between.sum_of_squares),
        ("within, sum of squares", 2.16636560000000e-01, within.sum_of_squares),
        ("F", 1.18046237440255, between.f or math.nan),
        ("residual deviation", 1.04076068334656e-01, math.sqrt(within.mean_square)),
    ):
        yield _strd(f"SiRstv, {what}", certified, computed, 9)


def study_checks(data: Path) -> Iterator[Check]:
    """Crossed gauge studies of 10 × 3 × 3 and of 20 × 3 × 2."""
    found = _crossed(data / "grr_crossed_10x3x3.csv")
    squares = {row.source: row.sum_of_squares for row in found.anova}
    for what, published, computed, needed in (
        ("sum of squares, operators", 3.16726, squares["operator"], 5.0),
        ("sum of squares, parts", 88.3619, squares["part"], 5.5),
        ("sum of squares, interaction", 0.35898, squares["interaction"], 4.5),
        ("sum of squares, repeatability", 2.75893, squares["repeatability"], 5.0),
        ("repeatability (EV)", 0.199933, found.repeatability, 5.0),
        ("reproducibility (AV)", 0.226838, found.reproducibility, 5.0),
        ("gauge (GRR)", 0.302373, found.gauge, 5.0),
        ("parts (PV)", 1.042327, found.part, 6.0),
        ("percent of total variation", 27.86, 100.0 * found.share_of_total, 4.0),
    ):
        yield Check(key="msa2010", what=f"crossed study, {what}", published=published, computed=computed, needed=needed)
    ranges = _crossed(data / "grr_crossed_10x3x3.csv", by_ranges=(0.5908, 0.5231, 0.3146))
    for what, published, computed, needed in (
        ("EV", 0.20188, ranges.repeatability, 3.9),
        ("AV", 0.22963, ranges.reproducibility, 3.7),
        ("GRR", 0.30575, ranges.gauge, 4.2),
        ("PV", 1.10456, ranges.part, 4.4),
        ("TV", 1.14610, ranges.total, 4.5),
        ("categories", 5.094, ranges.distinct_categories, 3.9),
    ):
        what = f"averages and ranges, {what}"  # noqa: PLW2901  the full name of the check
        yield Check(key="msa2010", what=what, published=published, computed=computed, needed=needed)
    yield from _montgomery(data)


def nested_checks(data: Path) -> Iterator[Check]:
    """Nested studies of the NIST handbook: film thickness, resistivity; pooling."""
    table = published_table(data / "nist_furnace_oxide_thickness.csv")
    levels = tuple((name, codes(table[name])) for name in ("run", "zone"))
    found = nested_study(numbers(table["thickness_A"]), levels=levels)
    for what, published, computed, needed in (
        ("mean square, location", 571.659, found.anova[1].mean_square, 6.0),
        ("mean square, within", 120.893, found.anova[2].mean_square, 5.9),
        ("variance, run", 312.557, found.components["run"], 6.0),
        ("variance, location", 225.383, found.components["zone"], 6.0),
    ):
        yield _handbook(f"film thickness, {what}", published, computed, needed)
    gauge = published_table(data / "nist_mpc61_gauge_study.csv")
    probe = np.array(gauge["probe"]) == "2362"
    average, deviation = numbers(gauge["average"])[probe], numbers(gauge["stddev"])[probe]
    outer = (("wafer", codes(gauge["wafer"])[probe]), ("run", codes(gauge["run"])[probe]))
    first, second, third = summarised_study(average, deviation, repeats=6, levels=outer)
    for what, published, computed, needed in (
        ("repeatability", 0.07287, first.deviation, 4.3),
        ("day to day", 0.03617, second.deviation, 4.3),
        ("run to run", 0.0196, third.deviation, 2.6),
        ("days alone", 0.02057092, math.sqrt(second.component), 4.2),
        ("runs alone", 0.01295841, math.sqrt(third.component), 4.5),
    ):
        yield _handbook(f"resistivity probe, {what}", published, computed, needed)
    yield from _resistivity(gauge, second.deviation, third.deviation)
    squares = np.array([0.48115, 0.69209, 0.48483, 1.21752, 0.30076])
    pooled, _ = pooled_deviation(np.sqrt(squares / 60.0), np.full(5, 60.0))
    yield _handbook("pooled deviation of five wafers", 0.10290, pooled, 4.5)


# ----------------------------------------------------------------------------------------------------------------------


def _resistivity(gauge: dict[str, list[str]], days: float, runs: float) -> Iterator[Check]:
    """Handbook 2.6.1 and 2.6.3: bias of probe 2362 against the mean of all probes, and the uncertainty built on it."""
    groups = np.stack([codes(gauge[name]) for name in ("run", "wafer", "probe")])
    average = numbers(gauge["average"])
    table = np.zeros(groups.max(axis=1) + 1)
    np.add.at(table, tuple(groups), average / 6.0)
    probe = sorted(set(gauge["probe"])).index("2362")
    biases = (table[:, :, probe] - table.mean(axis=2)).ravel()
    found = bias_study(biases, reference=0.0)
    yield _handbook("resistivity probe, mean bias", -0.0393, found.bias, 2.9)
    yield _handbook("resistivity probe, deviation of the bias", 0.0162, found.deviation, 2.8)
    budget = Budget(
        contributions=(
            Contribution(name="days", standard_uncertainty=days, sensitivity=math.sqrt(5 / 6), degrees_of_freedom=50.0),
            Contribution(name="runs", standard_uncertainty=runs, degrees_of_freedom=5.0),
            Contribution(name="probes", standard_uncertainty=found.standard_uncertainty, degrees_of_freedom=9.0),
        )
    )
    combined = combined_uncertainty(budget, value=0.0)
    yield _handbook("resistivity, standard uncertainty", 0.03875842, combined.standard_uncertainty, 5.0)
    yield _handbook("resistivity, degrees of freedom", 42.0, combined.degrees_of_freedom, 2.5)
    yield _handbook("resistivity, U", 0.0782, combined.expanded_uncertainty, 3.5)


def _strd(what: str, certified: float, computed: float, needed: float) -> Check:
    return Check(key="nist_strd", what=what, published=certified, computed=float(computed), needed=needed)


def _handbook(what: str, published: float, computed: float, needed: float) -> Check:
    return Check(key="nist_handbook", what=what, published=published, computed=computed, needed=needed)


def _fit_checks(name: str, fit: Fit, certified: list[float], needed: float) -> Iterator[Check]:
    for power, (one, ours) in enumerate(zip(certified, fit.coefficients.tolist(), strict=True)):
        yield _strd(f"{name}, B{power}", one, ours, needed)


def _series(name: str, values: np.ndarray, certified: tuple[float, float, float], needed: float) -> Iterator[Check]:
    mean, deviation, first = certified
    yield _strd(f"{name}, mean", mean, float(values.mean()), needed)
    yield _strd(f"{name}, deviation", deviation, float(values.std(ddof=1)), needed)
    yield _strd(f"{name}, autocorrelation", first, autocorrelation(values).coefficient, needed)


def _crossed(path: Path, *, by_ranges: tuple[float, float, float] | None = None) -> CrossedStudy:
    table = published_table(path)
    value, part, operator = numbers(table["y"]), codes(table["part"]), codes(table["operator"])
    if by_ranges:
        return range_study(value, part=part, operator=operator, factors=by_ranges)
    return crossed_study(value, part=part, operator=operator)


def _montgomery(data: Path) -> Iterator[Check]:
    found = _crossed(data / "grr_crossed_20x3x2.csv")
    squares = {row.source: row.sum_of_squares for row in found.anova}
    full = found.full_components
    assert full is not None
    ratios = {row.source: row.f or math.nan for row in found.used_anova}
    for what, published, computed, needed in (
        ("sum of squares, part", 1185.425, squares["part"], 7.0),
        ("sum of squares, operator", 2.617, squares["operator"], 3.8),
        ("sum of squares, interaction", 27.050, squares["interaction"], 5.0),
        ("sum of squares, error", 59.500, squares["repeatability"], 5.0),
        ("variance, part", 10.279825, full.part, 7.0),
        ("variance, operator", 0.0149123, full.operator, 5.7),
        ("variance, interaction", -0.139912, full.interaction, 5.4),
        ("variance, error", 0.9916667, full.repeatability, 7.0),
        ("reduced model, variance of part", 10.2513, found.components.part, 5.3),
        ("reduced model, variance of operator", 0.0106, found.components.operator, 2.5),
        ("reduced model, variance of error", 0.8832, found.components.repeatability, 4.3),
        ("reduced model, F of part", 70.64, ratios["part"], 4.1),
        ("reduced model, F of operator", 1.48, ratios["operator"], 3.0),
    ):
        yield Check(key="montgomery_grr", what=f"crossed study, {what}", published=published, computed=computed,
                    needed=needed)  # fmt: skip
