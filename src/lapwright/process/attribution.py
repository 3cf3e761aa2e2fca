"""Where the form of several wafers comes from: the plate, the jig, or the bond of one wafer.

A dome shared by the wafers of one plate is the plate's; a wedge shared by the wafers of one jig, seen in the jig's own
frame, is the jig's; what one wafer has alone is its bond's. Sources are taken in one by one, the most telling first,
each weighed against the chance that noise alone did it, and all of them are estimated together.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange

Floats = NDArray[np.float64]
SourceKind = Literal["plate", "jig", "bond"]

_PRIOR_SIZE = 4e-6  # m, how large a dome or wedge from a source is before anything is seen (own judgement)
_ODDS = math.log(20.0)  # natural logarithm of how much more likely the forms must be with a source than without


@dataclass(frozen=True, slots=True, kw_only=True)
class WaferForm:
    """Form of one wafer after lapping, and what it lay on.

    `wedge` [m] is a complex number in the jig's own frame, real part along the jig's +x, its size across the wafer's
    full diameter; `dome` [m] is positive when the wafer is high in the middle. Standard uncertainties [m], that of the
    wedge for each of its parts.
    """

    wafer_id: str
    jig: str
    plate: str
    wedge: complex
    dome: float
    wedge_uncertainty: float
    dome_uncertainty: float

    def __post_init__(self) -> None:
        for name in ("wedge_uncertainty", "dome_uncertainty"):
            if not getattr(self, name) > 0.0:
                raise OutOfValidRange(name, getattr(self, name), "more than zero [m]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Something that forms wafers: its kind and name, what it gives each of them [m], and how sure that is.

    Of a plate `size` is the dome (negative dishes); of a jig or a bond the size of the wedge. `log_odds` is the natural
    logarithm of how much more likely the forms are with it than without.
    """

    kind: SourceKind
    name: str
    size: float
    log_odds: float
    sentence: str


def form_sources(forms: Sequence[WaferForm]) -> tuple[Source, ...]:
    r"""The sources that the forms of several wafers speak for, the surest first.

    Parameters
    ----------
    forms : sequence of WaferForm
        Wafers with jig and plate; at least two.

    Returns
    -------
    tuple of Source
        Empty when noise explains everything. A plate that bore one wafer only, or a jig likewise, cannot be told from
        that wafer's bond and is not named.

    Raises
    ------
    OutOfValidRange
        Fewer than two wafers.

    Notes
    -----
    Linear model with independent normal noise and normal priors of 4 µm on each source; Bayes factor of one source
    more:

    .. math:: \ln B = \tfrac{1}{2} \left( b^T \Sigma b - \ln\frac{|\Sigma_0|}{|\Sigma|} \right)

    Sources are added while the best has at least 20 to 1.

    Examples
    --------
    >>> shared = [WaferForm(wafer_id=str(i), jig="J1", plate="P1", wedge=0.1e-6j, dome=-2e-6 + 1e-7 * i,
    ...                     wedge_uncertainty=3e-7, dome_uncertainty=2e-7) for i in range(4)]
    >>> [(one.kind, one.name) for one in form_sources(shared)]
    [('plate', 'P1')]
    """
    if len(forms) < 2:
        raise OutOfValidRange("number of wafers", len(forms), "at least two")
    values, weights = _values(forms)
    columns = _candidates(forms)
    taken: list[tuple[SourceKind, str]] = []
    gains: dict[tuple[SourceKind, str], float] = {}
    evidence = 0.0
    while True:
        best, gain = None, _ODDS
        for key in columns:
            if key in taken:
                continue
            more = _evidence(values, weights, [columns[one] for one in [*taken, key]]) - evidence
            if more > gain:
                best, gain = key, more
        if best is None:
            break
        taken.append(best)
        gains[best] = gain
        evidence += gain
    if not taken:
        return ()
    found = _estimates(values, weights, [columns[key] for key in taken])
    ends = np.cumsum([columns[key].shape[1] for key in taken])
    sources = []
    for key, end in zip(taken, ends, strict=True):
        width = columns[key].shape[1]
        part = found[end - width : end]
        size = float(part[0]) if width == 1 else float(np.hypot(part[0], part[1]))
        sources.append(
            Source(kind=key[0], name=key[1], size=size, log_odds=gains[key], sentence=_sentence(key, size, forms))
        )
    return tuple(sorted(sources, key=lambda one: -one.log_odds))


# ----------------------------------------------------------------------------------------------------------------------


def _values(forms: Sequence[WaferForm]) -> tuple[Floats, Floats]:
    """Dome and both parts of the wedge of each wafer, shape (3 n,), and one over their uncertainties."""
    values = [part for one in forms for part in (one.dome, one.wedge.real, one.wedge.imag)]
    doubts = [part for one in forms for part in (one.dome_uncertainty, one.wedge_uncertainty, one.wedge_uncertainty)]
    return np.array(values), 1.0 / np.array(doubts)


def _candidates(forms: Sequence[WaferForm]) -> dict[tuple[SourceKind, str], Floats]:
    """What each possible source does to the values, shape (3 n, 1 or 2)."""
    count = len(forms)
    found: dict[tuple[SourceKind, str], Floats] = {}
    for plate in sorted({one.plate for one in forms}):
        mine = np.array([one.plate == plate for one in forms])
        if mine.sum() > 1:
            column = np.zeros((3 * count, 1))
            column[0::3, 0] = mine
            found["plate", plate] = column
    for jig in sorted({one.jig for one in forms}):
        mine = np.array([one.jig == jig for one in forms])
        if mine.sum() > 1:
            found["jig", jig] = _wedge_columns(mine)
    for number, one in enumerate(forms):
        found["bond", one.wafer_id] = _wedge_columns(np.arange(count) == number)
    return found


def _wedge_columns(mine: NDArray[np.bool_]) -> Floats:
    columns = np.zeros((3 * len(mine), 2))
    columns[1::3, 0] = mine
    columns[2::3, 1] = mine
    return columns


def _weighted(weights: Floats, columns: list[Floats]) -> Floats:
    return np.hstack(columns) * weights[:, None] * _PRIOR_SIZE


def _evidence(values: Floats, weights: Floats, columns: list[Floats]) -> float:
    """Logarithm of how likely the values are with these sources, less that with none."""
    design = _weighted(weights, columns)
    precision = design.T @ design + np.eye(design.shape[1])
    pull = design.T @ (values * weights)
    return 0.5 * float(pull @ np.linalg.solve(precision, pull)) - 0.5 * float(np.linalg.slogdet(precision)[1])


def _estimates(values: Floats, weights: Floats, columns: list[Floats]) -> Floats:
    design = _weighted(weights, columns)
    precision = design.T @ design + np.eye(design.shape[1])
    return np.asarray(np.linalg.solve(precision, design.T @ (values * weights)) * _PRIOR_SIZE, dtype=np.float64)


def _sentence(key: tuple[SourceKind, str], size: float, forms: Sequence[WaferForm]) -> str:
    kind, name = key
    amount = f"{abs(size) * 1e6:.1f} µm"
    if kind == "plate":
        count = sum(one.plate == name for one in forms)
        form = "dished" if size < 0.0 else "domed"
        other = "domed" if size < 0.0 else "dished"
        return f"This is the plate, not the wafers: {count} wafers of {name} are {form} by {amount}; {name} is {other}."
    if kind == "jig":
        count = sum(one.jig == name for one in forms)
        return (
            f"This is the jig: {count} wafers of {name} share a wedge of {amount} in its own frame. Set its adjusters."
        )
    return f"This is the bond of {name}: it alone has a wedge of {amount}."
