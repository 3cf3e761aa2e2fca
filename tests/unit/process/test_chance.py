"""Chance of ending inside the limits."""

import math

import numpy as np
import pytest

from lapwright.metrology.distributions import normal_cdf
from lapwright.model.order import Limit, Order
from lapwright.model.readings import Gauge
from lapwright.model.wafer import Round
from lapwright.process.chance import Part, chance_in_tolerance, final_thickness_errors
from lapwright.process.workplaces import Assumptions

DRAWS = 40_000


def gauge(limit=0.0, local=0.0):
    """A gauge."""
    return Gauge(gauge_id="G", name="g", limit=limit, local=local)


def order(*limits):
    """100 um wanted."""
    return Order(
        order_id="A", customer="B", material="Si", outline=Round(diameter=0.1), quantity=1, start_thickness=500e-6,
        target_thickness=100e-6, limits=limits, edge_exclusion=2e-3, hold="free",
    )  # fmt: skip


def part(removal=5e-6, left=0.0, absolute=0.0, relative=0.0):
    """One part of a cut."""
    return Part(removal=removal, left_after=left, absolute=absolute, relative=relative)


def generator():
    """A seeded generator."""
    return np.random.default_rng(11)


def test_a_stop_error_alone_is_normal():
    """1 um deviation against +/- 2 um: 95.45 % (closed form), to three deviations of the count."""
    limit = Limit(quantity="thickness", lower=98e-6, upper=102e-6)
    found = chance_in_tolerance(
        order(limit), [part(removal=50e-6, absolute=1e-6)], gauge(), Assumptions(), generator=generator(), draws=DRAWS
    )
    expected = 2 * normal_cdf(2.0) - 1

    assert found == pytest.approx(expected, abs=3 * math.sqrt(expected * (1 - expected) / DRAWS))


def test_the_gauges_limit_is_common_to_all_parts():
    """With a limit of 1 um the error is rectangular, however often it is measured: deviation 1/sqrt(3) um."""
    parts = [part(300e-6, 30e-6), part(27e-6, 3e-6), part(3e-6)]
    errors = final_thickness_errors(parts, gauge(limit=1e-6), generator=generator(), draws=DRAWS)

    assert errors.std() * 1e6 == pytest.approx(1 / math.sqrt(3), rel=0.02)
    assert np.abs(errors).max() <= 1.0000001e-6


def test_an_early_error_is_mended_by_the_next_measurement():
    """3 um in the first part, none in the last: nothing stays."""
    errors = final_thickness_errors(
        [part(300e-6, 30e-6, absolute=3e-6), part(30e-6)], gauge(), generator=generator(), draws=DRAWS
    )

    assert np.abs(errors).max() < 1e-12


def test_over_removal_is_never_mended():
    """A first part that may take 50 % more than its 90 % leaves some jobs too thin for good."""
    parts = [part(9e-6, 1e-6, relative=0.5), part(1e-6)]
    errors = final_thickness_errors(parts, gauge(), generator=generator(), draws=DRAWS)
    expected = 1 - normal_cdf(math.log(10 / 9) / 0.5)

    assert np.mean(errors < -1e-12) == pytest.approx(expected, abs=0.01)
    assert errors.max() < 1e-12


def test_the_wedge_of_the_bond_counts_in_ttv():
    """Wedge components of 0.5 um: the wedge alone exceeds 1 um in exp(-2) of the jobs (closed form)."""
    limit = Limit(quantity="wedge", upper=1e-6)
    found = chance_in_tolerance(
        order(limit),
        [part()],
        gauge(),
        Assumptions(wedge_deviation=0.5e-6, wedge_doubt=0.0),
        generator=generator(),
        draws=DRAWS,
    )

    assert found == pytest.approx(1 - math.exp(-2), abs=0.006)


def test_a_limit_that_is_not_drawn_does_not_lower_the_chance():
    """Bow is not judged here."""
    found = chance_in_tolerance(
        order(Limit(quantity="bow", upper=1e-9)), [part()], gauge(), Assumptions(), generator=generator(), draws=100
    )

    assert found == 1.0
