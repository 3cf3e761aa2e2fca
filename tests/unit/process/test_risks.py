"""Risks of a rule, by simulation and in the limit; what a gauge can prove."""

import numpy as np
import pytest

from lapwright.errors import OutOfValidRange
from lapwright.model.order import DecisionRule, Limit
from lapwright.process.decisions import acceptance_range, factor_guard_band, judge
from lapwright.process.risks import decision_risks, proof_ratio, with_prior_knowledge

LIMIT = Limit(quantity="thickness", lower=-2.0, upper=2.0)
SIMPLE, FACTOR = DecisionRule(kind="simple"), DecisionRule(guard_factor=1.0)


@pytest.mark.parametrize("rule", [SIMPLE, DecisionRule(false_accept=0.05), FACTOR])
def test_risks_agree_with_simulation(rule):
    """A million pieces off centre, four standard errors."""
    rng = np.random.default_rng(1)
    true = rng.normal(0.5, 1.0, 1_000_000)
    measured = true + rng.normal(0.0, 0.25, true.size)
    low, high = acceptance_range(LIMIT, 0.25, rule=rule)
    accepted, inside = (low <= measured) & (measured <= high), np.abs(true) <= 2.0
    found = decision_risks(LIMIT, 0.25, process_mean=0.5, process_deviation=1.0, rule=rule)
    for share, seen in (
        (found.accepted, accepted), (found.conforming, inside), (found.consumer, accepted & ~inside), (found.producer, inside & ~accepted),
    ):  # fmt: skip
        assert share == pytest.approx(seen.mean(), abs=4 * max(seen.mean(), 1e-6) ** 0.5 / 1000)


def test_a_perfect_gauge_makes_no_mistakes():
    """No uncertainty: nothing wrong on either side."""
    found = decision_risks(LIMIT, 0.0, process_mean=0.0, process_deviation=1.0, rule=SIMPLE)
    assert pytest.approx((found.consumer, found.producer), abs=1e-9) == (0.0, 0.0)


def test_guard_bands_that_meet_accept_nothing():
    """U as large as half the tolerance."""
    found = decision_risks(LIMIT, 1.5, process_mean=0.0, process_deviation=1.0, rule=FACTOR)
    assert found.accepted == 0.0
    assert found.wrong_among_accepted is None


@pytest.mark.parametrize(
    ("value", "outcome"),
    [
        (1.5, "conforms"),
        (1.52, "cannot_be_decided"),
        (2.48, "cannot_be_decided"),
        (2.5, "does_not_conform"),
        (-2.5, "does_not_conform"),
    ],
)
def test_guard_band_of_one_u(value, outcome):
    """U 0.25: U 0.49, so accepted to 1.51 and rejected from 2.49."""
    verdict = judge(LIMIT, value, 0.25, rule=FACTOR)
    assert outcome == verdict.outcome
    assert "guard band" in verdict.reason


def test_few_degrees_of_freedom_widen_the_band():
    """T of four degrees is 2.776."""
    assert pytest.approx(factor_guard_band(0.1, factor=1.0, degrees_of_freedom=4.0), rel=1e-3) == 2.776 * 0.1


@pytest.mark.parametrize(("u", "can", "enough"), [(0.25, True, True), (0.5, True, False), (1.1, False, False)])
def test_what_a_gauge_can_prove(u, can, enough):
    """Half the tolerance of 2 against U of 0.49, 0.98 and 2.16."""
    found = proof_ratio(LIMIT, u)
    assert (can, enough) == (found.can_prove, found.is_enough)
    assert 2.0 / (1.96 * u) == pytest.approx(found.ratio, rel=1e-3)


def test_an_upper_limit_alone_begins_at_nought():
    """TTV up to 2 µm with U 0.4 µm: 2.5."""
    assert pytest.approx(proof_ratio(Limit(quantity="ttv", upper=2e-6), 0.4e-6 / 1.95996).ratio, rel=1e-4) == 2.5
    with pytest.raises(OutOfValidRange):
        proof_ratio(Limit(quantity="thickness", lower=1e-6), 1e-7)


def test_prior_knowledge_pulls_and_narrows():
    """A poor measurement of a good process stays near the process."""
    value, u = with_prior_knowledge(3.0, 2.0, process_mean=0.0, process_deviation=0.5)
    assert value < 0.5
    assert u < 0.5


@pytest.mark.parametrize(
    "call",
    [
        lambda: decision_risks(LIMIT, 0.1, process_mean=0.0, process_deviation=0.0, rule=SIMPLE),
        lambda: with_prior_knowledge(0.0, 0.0, process_mean=0.0, process_deviation=1.0),
        lambda: proof_ratio(LIMIT, 0.0),
        lambda: factor_guard_band(-1.0, factor=1.0),
        lambda: DecisionRule(guard_factor=0.0),
        lambda: DecisionRule(kind="simple", guard_factor=1.0),
    ],
)
def test_wrong_questions(call):
    """Refused."""
    with pytest.raises(OutOfValidRange):
        call()
