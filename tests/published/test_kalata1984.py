"""The steady filter against the closed form of the α–β tracker, a Riccati solver and another library."""

import math

import numpy as np
import pytest

from lapwright.process.endpoint import EndpointConfig, start, update
from lapwright.process.endpoint_filter import gains, spread_ahead, steady_gains, steady_variance

#: Tracking index, α, β by Kalata's closed form (see sources.toml).
ROWS = (
    (0.1, 0.36, 0.08),
    (0.5, 0.6283735, 0.3048059),
    (1.0, 0.75, 0.5),
    (2.0, 0.8541020, 0.7639320),
    (10.0, 0.9787138, 1.4589803),
)


@pytest.mark.parametrize(("index", "alpha", "beta"), ROWS, ids=lambda value: f"kalata1984-{value}")
def test_the_gains_come_to_the_closed_form(index, alpha, beta):
    """Random acceleration over each step, T 1 s, noise 1: the covariance run to rest gives α and β to seven digits."""
    spread = index * index  # (σ_w T²/σ_v)² with T = σ_v = 1
    p11, p12, p22 = 1.0, 0.0, 1.0
    for _ in range(2000):
        p11, p12, p22 = spread_ahead(p11, p12, p22, 1.0, 0.0)
        p11, p12, p22 = p11 + spread / 4.0, p12 + spread / 2.0, p22 + spread
        gain1, gain2 = gains(p11, p12, 1.0)
        p11, p12, p22 = (1.0 - gain1) * p11, (1.0 - gain1) * p12, p22 - gain2 * p12
    assert (alpha, beta) == pytest.approx((gain1, gain2), abs=6e-8)
    assert beta == pytest.approx(2.0 * (2.0 - alpha) - 4.0 * math.sqrt(1.0 - alpha), abs=1e-6)


@pytest.mark.parametrize(("step", "density", "variance"), [(0.2, 1e-18, 3e-13), (1.0, 1e-2, 1.0), (0.01, 5.0, 0.3)])
def test_steady_gains_and_variance_agree_with_a_riccati_solver(step, density, variance):
    """The solver of scipy for the discrete algebraic Riccati equation: relative 1e-7."""
    from scipy.linalg import solve_discrete_are

    scale = math.sqrt(variance)
    move = np.array([[1.0, step], [0.0, 1.0]])
    noise = density / variance * np.array([[step**3 / 3.0, step**2 / 2.0], [step**2 / 2.0, step]])
    ahead = solve_discrete_are(move.T, np.array([[1.0], [0.0]]), noise, np.array([[1.0]]))
    expected = ahead[:, 0] / (ahead[0, 0] + 1.0)
    assert expected == pytest.approx(steady_gains(step, density, variance), rel=1e-7)
    after = (ahead - np.outer(expected, ahead[0]))[0, 0] * scale**2
    assert after == pytest.approx(steady_variance(step, density, variance), rel=1e-7)


def test_for_a_small_index_the_gains_follow_the_continuous_filter():
    """Λ = √(q T³/R): α → √2 Λ^½ and β → Λ, within 1 % at Λ = 1e-4."""
    for index in (1e-3, 1e-4):
        alpha, beta = steady_gains(1.0, index * index, 1.0)
        assert alpha == pytest.approx(math.sqrt(2.0 * index), rel=math.sqrt(index))
        assert beta == pytest.approx(index, rel=1.5 * math.sqrt(index))


def test_the_steady_variance_is_what_a_simulation_shows():
    """A random walk of the rate followed for 200 000 steps: the error's variance within 5 % of the filter's own."""
    density, rng = 1e-3, np.random.default_rng(1984)
    factor = np.linalg.cholesky(density * np.array([[1.0 / 3.0, 0.5], [0.5, 1.0]]))
    kicks = rng.standard_normal((200_000, 2)) @ factor.T
    noise = rng.standard_normal(200_000)
    gain1, gain2 = steady_gains(1.0, density, 1.0)
    position = speed = error = error_rate = 0.0
    squares = 0.0
    for kick, read in zip(kicks, noise, strict=True):
        position, speed = position + speed + kick[0], speed + kick[1]
        error, error_rate = error + error_rate - kick[0], error_rate - kick[1]  # estimate less truth, one step later
        deviation = read - error
        error, error_rate = error + gain1 * deviation, error_rate + gain2 * deviation
        squares += error * error
    assert steady_variance(1.0, density, 1.0) == pytest.approx(squares / 200_000, rel=0.05)


def test_the_running_filter_agrees_with_filterpy_reading_by_reading():
    """The same noise model and the same variances given: removal, rate and covariance equal to 1e-9 relative."""
    filterpy = pytest.importorskip("filterpy")
    from filterpy.common import Q_continuous_white_noise
    from filterpy.kalman import KalmanFilter

    assert filterpy
    rate = 2e-6 / 60.0
    state = start(EndpointConfig(target=1.0, rate=rate, resolution=0.0), 0.0)
    other = KalmanFilter(dim_x=2, dim_z=1)
    other.x = np.array([[0.0], [rate * 1e6]])
    other.H = np.array([[1.0, 0.0]])
    other.P = 1e12 * np.array([[state.p11, state.p12], [state.p12, state.p22]])
    rng = np.random.default_rng(7)
    time = 0.0
    for _ in range(500):
        step = float(rng.uniform(0.1, 0.4))
        time += step
        length = rate * time + 0.5e-6 * float(np.clip(rng.standard_normal(), -2.5, 2.5))
        other.F = np.array([[1.0, step], [0.0, 1.0]])
        other.Q = Q_continuous_white_noise(dim=2, dt=step, spectral_density=1e12 * state.density)
        other.R = 1e12 * state.variance
        other.predict()
        other.update(1e6 * length)
        update(state, time, length)
        assert other.x[:, 0] / 1e6 == pytest.approx([state.removed, state.rate], rel=1e-9)
        assert [other.P[0, 0], other.P[0, 1], other.P[1, 1]] == pytest.approx(
            [1e12 * state.p11, 1e12 * state.p12, 1e12 * state.p22], rel=1e-8
        )
