"""Uncertainty against the worked examples H.1 and H.2 of JCGM 100:2008 (GUM), and against two libraries."""

import math

import numpy as np
import pytest
import uncertainties.umath
from GTC import cos as gtc_cos
from GTC import dof as gtc_dof
from GTC import multiple_ureal, set_correlation, uncertainty, ureal

from lapwright.metrology.uncertainty import (
    Budget,
    Contribution,
    arcsine_uncertainty,
    combined_uncertainty,
    effective_degrees_of_freedom,
    rectangular_uncertainty,
)

STANDARD, EXPANSION, TEMPERATURE = 50_000_623.0, 11.5e-6, -0.1  # nm, 1/K, K off 20 degrees

COMPARISON = Budget(
    contributions=(
        Contribution(name="repeated readings", standard_uncertainty=5.8, degrees_of_freedom=24.0),
        Contribution(name="random error of comparator", standard_uncertainty=3.9, degrees_of_freedom=5.0),
        Contribution(name="systematic error of comparator", standard_uncertainty=6.7, degrees_of_freedom=8.0),
    )
)


def end_gauge():
    """H.1: an end gauge of 50 mm compared with a standard; l = ls + d - ls (da theta + as dtheta)."""
    difference = combined_uncertainty(COMPARISON, value=215.0)
    return Budget(
        contributions=(
            Contribution(name="standard", standard_uncertainty=25.0, degrees_of_freedom=18.0),
            Contribution(
                name="difference",
                standard_uncertainty=difference.standard_uncertainty,
                degrees_of_freedom=difference.degrees_of_freedom,
            ),
            Contribution(
                name="difference of expansions",
                standard_uncertainty=rectangular_uncertainty(1e-6),
                sensitivity=-STANDARD * TEMPERATURE,
                degrees_of_freedom=50.0,
            ),
            Contribution(
                name="difference of temperatures",
                standard_uncertainty=rectangular_uncertainty(0.05),
                sensitivity=-STANDARD * EXPANSION,
                degrees_of_freedom=2.0,
            ),
            Contribution(name="expansion of standard", standard_uncertainty=1.2e-6, sensitivity=0.0),
            Contribution(name="temperature", standard_uncertainty=0.41, sensitivity=0.0),
        )
    )


def test_h1_comparison():
    """u(d) 9.7 nm; 25.45 degrees of freedom unrounded (25.6 printed, from rounded steps)."""
    found = combined_uncertainty(COMPARISON, value=215.0)
    assert pytest.approx(9.7, abs=0.05) == found.standard_uncertainty
    assert pytest.approx(25.45, abs=0.01) == found.degrees_of_freedom


def test_h1_temperature():
    """Mean deviation 0.2 and cyclic variation of 0.5 K: 0.41 K."""
    assert pytest.approx(0.41, abs=0.005) == math.hypot(0.2, arcsine_uncertainty(0.5))


def test_h1_terms():
    """25, 9.7, 2.9 and 16.6 nm; the two without sensitivity nought."""
    effects = [abs(line.effect) for line in end_gauge().contributions]
    assert pytest.approx(effects, abs=0.05) == [25.0, 9.7, 2.9, 16.6, 0.0, 0.0]


def test_h1_combined():
    """Uc 32 nm (31.664 unrounded), 16.7 degrees of freedom, U99 92.48 nm with k = 2.92 (93 printed, from rounded uc)."""
    found = combined_uncertainty(end_gauge(), value=50_000_838.0, probability=0.99)
    assert pytest.approx(31.664, abs=0.01) == found.standard_uncertainty
    assert round(found.standard_uncertainty) == 32.0
    assert pytest.approx(16.7, abs=0.06) == found.degrees_of_freedom
    assert pytest.approx(2.92, abs=0.005) == found.coverage_factor
    assert pytest.approx(92.48, abs=0.05) == found.expanded_uncertainty


def test_h1_agrees_with_gtc():
    """Standard uncertainty and degrees of freedom by an independent library, to 1e-9."""
    d = ureal(215.0, 5.8, 24) + ureal(0.0, 3.9, 5) + ureal(0.0, 6.7, 8)
    length = (
        ureal(STANDARD, 25.0, 18)
        + d
        - STANDARD * ureal(0.0, 1e-6 / math.sqrt(3), 50) * TEMPERATURE
        - STANDARD * EXPANSION * ureal(0.0, 0.05 / math.sqrt(3), 2)
    )
    found = combined_uncertainty(end_gauge(), value=50_000_838.0)
    assert uncertainty(length) == pytest.approx(found.standard_uncertainty, rel=1e-9)
    # that library spreads the comparison over its own three contributions
    spread = Budget(contributions=COMPARISON.contributions + tuple(
        line for line in end_gauge().contributions if line.name != "difference"
    ))  # fmt: skip
    assert gtc_dof(length) == pytest.approx(effective_degrees_of_freedom(spread), rel=1e-9)


# H.2: means, standard uncertainties and correlations of five simultaneous readings (raw readings from memory)
VOLTAGE = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
CURRENT = np.array([19.663, 19.639, 19.640, 19.685, 19.678]) * 1e-3
PHASE = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])
MEANS = np.array([VOLTAGE.mean(), CURRENT.mean(), PHASE.mean()])
DEVIATIONS = np.array([v.std(ddof=1) / math.sqrt(5) for v in (VOLTAGE, CURRENT, PHASE)])
CORRELATION = np.corrcoef(np.vstack((VOLTAGE, CURRENT, PHASE)))


def impedance(sensitivities):
    """A budget of voltage, current and phase with their correlation."""
    correlation = (CORRELATION + CORRELATION.T) / 2
    np.fill_diagonal(correlation, 1.0)
    return Budget(
        contributions=tuple(
            Contribution(
                name=name,
                value=float(mean),
                standard_uncertainty=float(deviation),
                sensitivity=float(sensitivity),
                degrees_of_freedom=4.0,
            )
            for name, mean, deviation, sensitivity in zip(
                ("V", "I", "phi"), MEANS, DEVIATIONS, sensitivities, strict=True
            )
        ),
        correlation=tuple(tuple(float(r) for r in row) for row in correlation),
    )


def sensitivities():
    """Derivatives of R = V/I cos phi, X = V/I sin phi, Z = V/I by V, I, phi."""
    v, i, phi = MEANS
    z = v / i
    return {
        "R": (math.cos(phi) / i, -z * math.cos(phi) / i, -z * math.sin(phi)),
        "X": (math.sin(phi) / i, -z * math.sin(phi) / i, z * math.cos(phi)),
        "Z": (1.0 / i, -z / i, 0.0),
    }


@pytest.mark.parametrize(("quantity", "printed"), [("R", 0.071), ("X", 0.295), ("Z", 0.236)])
def test_h2_correlated(quantity, printed):
    """Resistance, reactance and impedance: printed to three decimals, rounded inside (so to 3 in 1000)."""
    found = combined_uncertainty(impedance(sensitivities()[quantity]), value=0.0)
    assert pytest.approx(printed, rel=3e-3) == found.standard_uncertainty
    assert pytest.approx(4.0) == found.degrees_of_freedom


def test_h2_agrees_with_uncertainties():
    """First-order propagation with correlation by an independent library, to 1e-9."""
    covariance = CORRELATION * np.outer(DEVIATIONS, DEVIATIONS)
    v, i, phi = uncertainties.correlated_values(MEANS, covariance)
    for quantity, value in (
        ("R", v / i * uncertainties.umath.cos(phi)),
        ("X", v / i * uncertainties.umath.sin(phi)),
        ("Z", v / i),
    ):
        found = combined_uncertainty(impedance(sensitivities()[quantity]), value=0.0)
        assert value.std_dev == pytest.approx(found.standard_uncertainty, rel=1e-6)


def test_h2_agrees_with_gtc():
    """The same by the other library."""
    v, i, phi = multiple_ureal(list(MEANS), list(DEVIATIONS), 4)
    set_correlation(float(CORRELATION[0, 1]), v, i)
    set_correlation(float(CORRELATION[0, 2]), v, phi)
    set_correlation(float(CORRELATION[1, 2]), i, phi)
    resistance = v / i * gtc_cos(phi)
    found = combined_uncertainty(impedance(sensitivities()["R"]), value=0.0)
    assert uncertainty(resistance) == pytest.approx(found.standard_uncertainty, rel=1e-9)
    assert gtc_dof(resistance) == pytest.approx(found.degrees_of_freedom, rel=1e-9)
