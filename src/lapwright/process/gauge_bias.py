"""What a gauge in process reads too little, learned from runs that were looked back on, for the next preset.

A foot that wears, or rides on a film that thins, takes a share of the removal out of the reading, run after run. Only
that direction is corrected: it ends in too thin a wafer. A gauge that reads too much leaves material standing, and
correcting for a jig that happened to be warm would take it from the next wafer for good.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from lapwright.errors import OutOfValidRange

FEWEST = 3  # runs from which a bias is believed
SURE = 3.0  # standard uncertainties from which it is believed
Finding = Literal["unknown", "none", "too_little", "too_much"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareTold:
    """What one run said: share of the removal that the gauge missed (below zero: read too much), its uncertainty."""

    share: float
    uncertainty: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedBias:
    """The share that a gauge misses, mean of its runs, standard uncertainty of one further run, and what follows [1].

    `correction` is the share to be taken off the next preset: zero unless the gauge is sure to read too little.
    """

    share: float
    uncertainty: float
    runs: int
    finding: Finding

    @property
    def correction(self) -> float:
        """Share of the removal by which the next preset is made smaller."""
        return self.share if self.finding == "too_little" else 0.0


def learned_bias(told: Sequence[ShareTold]) -> LearnedBias:
    """The share of the removal that a gauge in process misses.

    Parameters
    ----------
    told : sequence of ShareTold
        One for each run.

    Returns
    -------
    LearnedBias

    Raises
    ------
    OutOfValidRange
        An uncertainty not above zero.

    Notes
    -----
    The mean weighs each run by 1/u². Where the runs scatter by more than their uncertainties explain, the uncertainty
    of the mean grows by the Birge ratio √(χ²/(n − 1)) [1]_. A further run adds the scatter once more.

    References
    ----------
    .. [1] R. T. Birge, "The calculation of errors by the method of least squares," Phys. Rev. 40 (1932) 207-227,
       doi:10.1103/PhysRev.40.207.

    Examples
    --------
    >>> bias = learned_bias([ShareTold(share=share, uncertainty=0.004) for share in (0.031, 0.027, 0.032)])
    >>> round(bias.share, 3), bias.finding
    (0.03, 'too_little')
    """
    if not told:
        return LearnedBias(share=0.0, uncertainty=math.inf, runs=0, finding="unknown")
    for one in told:
        if not one.uncertainty > 0.0:
            raise OutOfValidRange("uncertainty", one.uncertainty, "more than zero")
    weights = [one.uncertainty**-2 for one in told]
    whole = math.fsum(weights)
    share = math.fsum(weight * one.share for weight, one in zip(weights, told, strict=True)) / whole
    squares = math.fsum(weight * (one.share - share) ** 2 for weight, one in zip(weights, told, strict=True))
    ratio = math.sqrt(squares / (len(told) - 1)) if len(told) > 1 else 1.0
    of_mean = max(1.0, ratio) / math.sqrt(whole)
    scatter = math.sqrt(max(0.0, ratio * ratio - 1.0) * len(told) / whole)
    finding: Finding = "unknown"
    if len(told) >= FEWEST:
        finding = "none" if abs(share) <= SURE * of_mean else "too_little" if share > 0.0 else "too_much"
    return LearnedBias(share=share, uncertainty=math.hypot(of_mean, scatter), runs=len(told), finding=finding)
