"""Phase unwrapping: from an angle known up to whole turns to a smooth sheet.

The turns are carried along the spanning tree that joins neighbouring pixels in order of reliability, the idea of
Herráez et al. 2002 (there: sort all joints, merge groups). Here the tree is the minimum spanning tree of the joints,
each weighted by its unreliability, and the turns are summed along it. Left out: jumps of more than half a turn
between neighbours that are real (steps); no method can tell them from an angle alone.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import ShapeMismatch

TURN = 2.0 * np.pi


def unwrapped_phase(
    phase: NDArray[np.floating], *, mask: NDArray[np.bool_], quality: NDArray[np.floating] | None = None
) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """Continuous phase from wrapped phase, island by island.

    Parameters
    ----------
    phase : float array, shape (ny, nx) [rad]
        Phase up to whole turns.
    mask : bool array, shape (ny, nx)
        True where the phase is known.
    quality : float array, shape (ny, nx) [1]
        How far each value can be trusted, zero or more; the paths run through the best. Without it the second
        differences of the phase decide.

    Returns
    -------
    tuple of float array [rad] and int array, shapes (ny, nx)
        Phase without jumps, NaN outside the mask, and the number of the island that each pixel belongs to:
        0 outside, 1 the largest. Islands are not joined: each keeps a whole number of turns of its own.

    Raises
    ------
    ShapeMismatch
        Arrays differ in shape.

    Notes
    -----
    Neighbours share an edge, not a corner. Exact when neighbouring true phases differ by less than half a turn
    (Itoh's condition) along some path that joins all pixels of an island and is more reliable than those that
    break it.

    References
    ----------
    .. [1] herraez2002: M. A. Herráez, D. R. Burton, M. J. Lalor, M. A. Gdeisat, "Fast two-dimensional
       phase-unwrapping algorithm based on sorting by reliability following a noncontinuous path," Applied Optics 41
       (2002) 7437-7444, doi:10.1364/AO.41.007437, section 2.

    Examples
    --------
    >>> ramp = np.linspace(0.0, 20.0, 40).reshape(1, 40)
    >>> sheet, island = unwrapped_phase(np.angle(np.exp(1j * ramp)), mask=np.ones((1, 40), bool))
    >>> bool(np.allclose(sheet - sheet[0, 0], ramp))
    True
    """
    if phase.shape != mask.shape or (quality is not None and quality.shape != phase.shape):
        raise ShapeMismatch(phase=phase.shape, mask=mask.shape)
    sheet = np.full(phase.shape, np.nan)
    if not mask.any():
        return sheet, np.zeros(phase.shape, np.int32)
    island = islands(mask)
    value = np.asarray(phase, dtype=float)[mask]
    first, second = _joints(mask)
    if _is_free_of_residues(phase, mask):
        rank = np.ones(first.size)
    else:
        trust = _smoothness(phase, mask)[mask] if quality is None else np.asarray(quality, float)[mask]
        rank = _ranked(np.minimum(trust[first], trust[second]))
    sheet[mask] = value + TURN * _turns(value, first, second, rank)
    return sheet, island


def islands(mask: NDArray[np.bool_]) -> NDArray[np.int32]:
    """Number of the connected island of each pixel, largest first.

    Parameters
    ----------
    mask : bool array, shape (ny, nx)
        True where something is.

    Returns
    -------
    int array, shape (ny, nx)
        0 outside the mask; 1 the largest island, 2 the next, …; neighbours share an edge.

    Examples
    --------
    >>> islands(np.array([[True, False, True], [False, False, True]])).tolist()
    [[2, 0, 1], [0, 0, 1]]
    """
    from scipy import ndimage

    label, count = ndimage.label(mask)
    size = np.bincount(label.ravel(), minlength=count + 1)
    order = np.argsort(-size[1:], kind="stable") + 1
    rank = np.zeros(count + 1, np.int32)
    rank[order] = np.arange(1, count + 1)
    return rank[label]


# ----------------------------------------------------------------------------------------------------------------------


def _joints(mask: NDArray[np.bool_]) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Indices (into the masked pixels) of the two ends of every joint between neighbours."""
    number = np.cumsum(mask, dtype=np.int32).reshape(mask.shape) - np.int32(1)
    across = mask[:, 1:] & mask[:, :-1]
    down = mask[1:] & mask[:-1]
    first = np.concatenate([number[:, :-1][across], number[:-1][down]])
    second = np.concatenate([number[:, 1:][across], number[1:][down]])
    return first, second


def _is_free_of_residues(phase: NDArray[np.floating], mask: NDArray[np.bool_]) -> bool:
    """True when the wrapped steps around every four pixels add up to nothing, so that any path will do."""
    across, down = _wrapped(np.diff(phase, axis=1)), _wrapped(np.diff(phase, axis=0))
    curl = across[:-1] + down[:, 1:] - across[1:] - down[:, :-1]
    whole = mask[:-1, :-1] & mask[:-1, 1:] & mask[1:, :-1] & mask[1:, 1:]
    return not (np.abs(curl[whole]) > 1.0).any()


def _ranked(trust: NDArray[np.float64]) -> NDArray[np.float64]:
    """Place of each joint in the order of trust, the best first."""
    rank = np.empty(trust.size)
    rank[np.argsort(-trust, kind="stable")] = np.arange(1, trust.size + 1)
    return rank


def _turns(
    value: NDArray[np.float64], first: NDArray[np.int32], second: NDArray[np.int32], rank: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Whole turns to add to each value, summed along the tree of the best joints; none at each island's root."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import breadth_first_order, minimum_spanning_tree

    n = value.size
    # a node 0 holds the islands together, by joints that are worse than any
    nodes = np.arange(1, n + 1, dtype=np.int32)  # the kind of whole numbers that every SciPy's graphs take
    ends = np.concatenate([first + 1, np.zeros(n, np.int32)]), np.concatenate([second + 1, nodes])
    weights = np.concatenate([rank, np.full(n, rank.size + 1.0)])
    tree = minimum_spanning_tree(coo_array((weights, ends), shape=(n + 1, n + 1)).tocsr())
    _, parent = breadth_first_order(tree, 0, directed=False)
    parent[0] = 0
    lifted = np.concatenate([[0.0], value])
    jump = np.round((lifted[parent] - lifted) / TURN)
    jump[parent == 0] = 0.0
    return _summed_to_root(jump, parent)[1:]


def _summed_to_root(jump: NDArray[np.float64], parent: NDArray[np.int32]) -> NDArray[np.float64]:
    """Sum of `jump` on the way from each node to the root, by doubling the stride until all have arrived."""
    total, above = jump, parent
    while above.any():
        total = total + total[above]
        above = above[above]
    return total


def _smoothness(phase: NDArray[np.floating], mask: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Reliability as in the source: one over the length of the wrapped second differences."""
    padded = np.pad(np.where(mask, phase, np.nan), 1, constant_values=np.nan)
    middle = padded[1:-1, 1:-1]
    total = np.zeros(phase.shape)
    for dy, dx in ((0, 1), (1, 0), (1, 1), (1, -1)):
        ahead = padded[1 + dy : padded.shape[0] - 1 + dy, 1 + dx : padded.shape[1] - 1 + dx]
        behind = padded[1 - dy : padded.shape[0] - 1 - dy, 1 - dx : padded.shape[1] - 1 - dx]
        total += (_wrapped(behind - middle) - _wrapped(middle - ahead)) ** 2
    return np.where(np.isnan(total), 0.0, 1.0 / np.sqrt(total + 1e-12))


def _wrapped(angle: NDArray[np.float64]) -> NDArray[np.float64]:
    return angle - TURN * np.round(angle / TURN)
