"""The run-to-run controller: stability, noise and drift by formula and by simulation."""

import numpy as np
import pytest

from lapwright.metrology.run_to_run import (
    RunController,
    controller_stability,
    proposed_setting,
    updated_controller,
)


@pytest.mark.parametrize(("ratio", "gain"), [(1.0, 1.176471), (0.5, 1.081081), (1.5, 1.290323)])
def test_noise_gain(ratio, gain):
    """λ 0.3 with a slope that is right, half and one and a half times the one believed."""
    assert gain == pytest.approx(controller_stability(0.3, slope_ratio=ratio).noise_gain, abs=5e-7)


@pytest.mark.parametrize(
    ("weight", "ratio", "stable"), [(0.5, 3.9, True), (0.5, 4.1, False), (1.0, 1.99, True), (0.3, -1.0, False)]
)
def test_stability_bound(weight, ratio, stable):
    """Stable while λξ lies between 0 and 2."""
    assert controller_stability(weight, slope_ratio=ratio).is_stable is stable


@pytest.mark.parametrize("ratio", [0.5, 1.0, 1.5])
def test_simulation_of_noise_and_drift(ratio):
    """Forty thousand runs: the variance within 3 %, the lasting error of a drift of 0.1 within 0.02."""
    generator = np.random.default_rng(7)
    controller = RunController(slope=2.0, offset=0.0, target=0.0, weight=0.3)
    noise, outcomes, offset = generator.standard_normal(40_000), [], 0.0
    setting = 0.0
    for one in noise:
        outcome = offset + 2.0 * ratio * setting + one
        offset += 0.1
        outcomes.append(outcome)
        controller = updated_controller(controller, setting=setting, outcome=outcome)
        setting = proposed_setting(controller).setting
    settled = np.array(outcomes[1000:])
    expected = controller_stability(0.3, slope_ratio=ratio)
    assert expected.noise_gain == pytest.approx(settled.var(), rel=0.03)
    assert 0.1 * expected.drift_gain == pytest.approx(settled.mean(), abs=0.02)
