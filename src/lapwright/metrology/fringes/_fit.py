"""Local least-squares fit of background, amplitude and phase to a picture whose phase is nearly known.

Model, at each bin: I = a + b (cos(phase) + h cos(2 phase)), where h stands for the camera's curve and is one number for
the picture. The three fields phase, a and b live on the nodes. Each round spreads them to the bins, takes
the residual, fits it around every node by a weighted constant (1, cos, sin) and adds the correction. As it is always
the residual that is fitted, the rounds stop where the residual has no fringe left in it, so that neither the mask's
edge nor uneven light nor the width of the window leaves a bias on smooth surfaces: Tukey's "twicing" of a kernel
smoother. Bins that stand out of the model (dust, glare, holes) are left out and looked at again each round.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.metrology.fringes._grid import Grid, Single

DAMPING = 0.002  # share of a full window's weight that speaks for "no correction"
OUTLIER = 5.0  # robust standard deviations
ODD = 0.4  # fringe amplitudes: what may still be the fit's own fault in the first rounds
SPOILED = 0.3  # fringe amplitudes: what is laid to the picture when the rounds are over
LAST_ROUNDS = 2
REFACTORED = (1, 2, 4)  # rounds that set up the normal equations anew


@dataclass
class Fields:
    """Phase less the carrier [rad], background and amplitude at the nodes, and the harmonic all over."""

    phase: Single
    background: Single
    amplitude: Single
    harmonic: float = 0.0


@dataclass
class Leftover:
    """At the bins: what the model does not explain, and the model's cosine, sine, amplitude and b cos(2 phase)."""

    residual: Single
    cos: Single
    sin: Single
    amplitude: Single
    overtone: Single


@dataclass
class Fit:
    """What a fit ended with: fields on the nodes, and what was left over on the bins."""

    fields: Fields
    counts: Single
    used: Single
    left: Leftover
    weight: Single
    explained: Single
    last_change: float
    rounds: int


@dataclass
class Light:
    """A picture in bins: mean intensity, 1 where the bin counts, and the carrier's phase [rad] there."""

    intensity: Single
    counts: Single
    carrier: Single


class Window:
    """Gaussian window (`sigma` in nodes) around every node, with powers of the distance in sigmas as weights."""

    def __init__(self, shape: tuple[int, int], sigma: float) -> None:
        self._down, self._across = ([_moment_matrix(length, sigma, power) for power in range(3)] for length in shape)

    def mean(self, cells: Single, down: int = 0, across: int = 0) -> Single:
        """Weighted mean of one or more node fields; nothing lies beyond the margin."""
        return self._down[down] @ (cells @ self._across[across])


def fitted(
    grid: Grid, light: Light, start: Fields, window: Window, *, rounds: int = 12, tolerance: float = 4e-3
) -> Fit:
    """Fields that leave no fringe in the residual."""
    fields, used, change, turn = start, light.counts, np.inf, 0
    factor: Triangle = []
    while turn < rounds and change > tolerance:
        turn += 1
        left = _leftover(grid, light, fields)
        if turn > 2:
            used = light.counts * _unremarkable(left, light.counts, ODD)
        if turn in REFACTORED:
            factor = _factored(grid, left, used, window)
        change, fields = _corrected(grid, fields, left, used, window, factor)
    left = _leftover(grid, light, fields)
    kept: Single = _unspoiled(left, light.counts)
    if np.count_nonzero(kept) < 0.999 * np.count_nonzero(light.counts):
        factor = _factored(grid, left, kept, window)
        for _ in range(LAST_ROUNDS):
            change, fields = _corrected(grid, fields, left, kept, window, factor)
            left = _leftover(grid, light, fields)
    weight, explained = _agreement(grid, left, kept, window)
    return Fit(fields, light.counts, kept, left, weight / np.float32(grid.step**2), explained, change, turn)


# ----------------------------------------------------------------------------------------------------------------------


Triangle = list[list[Single]]


def _leftover(grid: Grid, light: Light, fields: Fields) -> Leftover:
    phase = light.carrier + grid.on_bins(fields.phase)
    cos, sin = np.cos(phase), np.sin(phase)
    amplitude = grid.on_bins(fields.amplitude)
    residual = light.intensity - grid.on_bins(fields.background)
    fringe = amplitude * cos
    residual -= fringe
    overtone = 2.0 * fringe * cos - amplitude
    residual -= np.float32(fields.harmonic) * overtone
    return Leftover(residual, cos, sin, amplitude, overtone)


def _factored(grid: Grid, left: Leftover, used: Single, window: Window) -> Triangle:
    """Normal equations of (1, cos, sin, y sin, x sin) around every node, as triangles."""
    cos, sin = left.cos * used, left.sin * used
    terms = (used, cos, cos * left.cos, sin, cos * left.sin, sin * left.sin)
    cells = np.stack([grid.pooled(term) for term in terms])
    one, c, cc, s, cs, ss = window.mean(cells)
    s_y, cs_y, ss_y = window.mean(cells[3:], down=1)
    s_x, cs_x, ss_x = window.mean(cells[3:], across=1)
    ss_yy, ss_xx, ss_xy = (window.mean(cells[5], *powers) for powers in ((2, 0), (0, 2), (1, 1)))
    damp = np.float32(DAMPING * grid.step**2)
    return _triangle(
        [
            [one + damp],
            [c, cc + damp / 2],
            [s, cs, ss + damp / 2],
            [s_y, cs_y, ss_y, ss_yy + damp / 2],
            [s_x, cs_x, ss_x, ss_xy, ss_xx + damp / 2],
        ]
    )


def _corrected(
    grid: Grid, fields: Fields, left: Leftover, used: Single, window: Window, factor: Triangle
) -> tuple[float, Fields]:
    """One round: the residual is fitted around every node, and the fields are moved by what is found."""
    residual = left.residual * used
    cells = np.stack([grid.pooled(term) for term in (residual, residual * left.cos, residual * left.sin)])
    right = [*window.mean(cells), window.mean(cells[2], down=1), window.mean(cells[2], across=1)]
    lift, in_phase, quadrature, *_ = _substituted(factor, right)
    seen = fields.amplitude + in_phase
    turn = np.arctan2(quadrature, seen)
    solid = factor[0][0] ** 2 > 0.2 * grid.step**2
    change = float(np.sqrt(np.mean(turn[solid] ** 2)))
    harmonic = fields.harmonic + _share(residual, left.overtone * used)
    return change, Fields(fields.phase - turn, fields.background + lift, np.hypot(seen, quadrature), harmonic)


def _share(residual: Single, pattern: Single) -> float:
    """Least-squares share of a pattern in the residual."""
    return float(np.vdot(residual, pattern) / max(float(np.vdot(pattern, pattern)), 1e-30))


def _triangle(rows: list[list[Single]]) -> Triangle:
    """Cholesky factors of the symmetric systems whose lower triangles are given, all nodes at once."""
    low: Triangle = []
    for i, row in enumerate(rows):
        low.append([])
        for j, value in enumerate(row):
            rest = value
            for k in range(j):
                rest = rest - low[i][k] * low[j][k]
            low[i].append(np.sqrt(rest) if i == j else rest / low[j][j])
    return low


def _substituted(low: Triangle, right: list[Single]) -> list[Single]:
    """Solution of the factored systems."""
    out = list(right)
    for i, row in enumerate(low):
        for k in range(i):
            out[i] = out[i] - row[k] * out[k]
        out[i] = out[i] / row[i]
    for i in reversed(range(len(out))):
        for k in range(i + 1, len(out)):
            out[i] = out[i] - low[k][i] * out[k]
        out[i] = out[i] / low[i][i]
    return out


def _moment_matrix(length: int, sigma: float, power: int) -> Single:
    """Matrix that weighs node i around node j by ((i - j) / sigma)^power and a Gaussian whose weights add up to 1."""
    apart = (np.arange(length)[:, None] - np.arange(length)) / sigma
    bell = np.where(np.abs(apart) <= 3.2, np.exp(-0.5 * apart**2), 0.0)
    total = bell[:, length // 2].sum()
    return (apart**power * bell / total).astype(np.float32)  # type: ignore[no-any-return]


def _unremarkable(left: Leftover, counts: Single, share: float) -> NDArray[np.bool_]:
    sample = np.abs(left.residual[::2, ::2][counts[::2, ::2] > 0])
    spread = 1.4826 * float(np.median(sample))
    return np.abs(left.residual) <= np.maximum(np.float32(OUTLIER * spread), share * left.amplitude)  # type: ignore[no-any-return]


def _unspoiled(left: Leftover, counts: Single) -> Single:
    """Bins that count and neither stand out nor touch one that does."""
    from scipy import ndimage

    odd = (counts > 0) & ~_unremarkable(left, counts, SPOILED)
    return np.where(ndimage.maximum_filter(odd, size=3), np.float32(0.0), counts).astype(np.float32)


def _agreement(grid: Grid, left: Leftover, used: Single, window: Window) -> tuple[Single, Single]:
    """Weight around each node, and the share of the local variation that the fringes explain."""
    lost, fringe = used * left.residual**2, used * (left.amplitude * left.cos) ** 2
    weight, unexplained, shown = window.mean(np.stack([grid.pooled(term) for term in (used, lost, fringe)]))
    return weight, shown / np.maximum(shown + unexplained, np.float32(1e-30))
