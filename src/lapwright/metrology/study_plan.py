"""Planning a gauge study and the repeats of a set: who reads what in which order, and how often is enough."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from lapwright.errors import OutOfValidRange
from lapwright.metrology.range_bias import expected_range


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedReading:
    """One line of the sheet of a study; numbers count from 1."""

    order: int
    repeat: int
    operator: str
    part: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatsAdvice:
    """Repeats at each site, and the standard deviation of TTV from noise that they leave, with the share of the limit.

    `with_fewer` is what one repeat fewer would leave, None when one is enough.
    """

    repeats: int
    noise_in_ttv: float
    share_of_limit: float
    with_fewer: float | None
    sentence: str


def study_sheet(
    parts: tuple[str, ...], operators: tuple[str, ...], *, repeats: int, generator: np.random.Generator
) -> tuple[PlannedReading, ...]:
    """Order of the readings of a crossed study: rounds, in each the operators and their parts in random order.

    Parameters
    ----------
    parts : tuple of str
        Names of the parts, at least two.
    operators : tuple of str
        Names of the operators, at least two.
    repeats : int [1]
        How often each operator reads each part, at least twice.
    generator : numpy random Generator
        Where the randomness comes from.

    Returns
    -------
    tuple of PlannedReading

    Raises
    ------
    OutOfValidRange
        Fewer than two parts, operators or repeats, or a name that comes twice.

    Notes
    -----
    Nobody reads a part again before having read all, so that the last number is not remembered.

    Examples
    --------
    >>> sheet = study_sheet(("a", "b"), ("x", "y"), repeats=2, generator=np.random.default_rng(1))
    >>> len(sheet), sorted({(line.part, line.operator, line.repeat) for line in sheet})[0]
    (8, ('a', 'x', 1))
    """
    for name, count in (("parts", len(set(parts))), ("operators", len(set(operators))), ("repeats", repeats)):
        if count < 2:
            raise OutOfValidRange(f"number of {name}", count, "at least 2")
    if len(set(parts)) < len(parts) or len(set(operators)) < len(operators):
        raise OutOfValidRange("number of equal names", 2, "1", "Name each part and each operator once.")
    lines: list[PlannedReading] = []
    for repeat in range(1, repeats + 1):
        for who in generator.permutation(len(operators)):
            lines += [
                PlannedReading(order=0, repeat=repeat, operator=operators[who], part=parts[which])
                for which in generator.permutation(len(parts))
            ]
    return tuple(
        PlannedReading(order=order, repeat=line.repeat, operator=line.operator, part=line.part)
        for order, line in enumerate(lines, start=1)
    )


def repeats_advice(noise: float, *, n_sites: int, ttv_limit: float, largest_share: float = 0.2) -> RepeatsAdvice:
    r"""Smallest number of repeats at each site for which noise opens TTV by at most a share of its limit.

    Parameters
    ----------
    noise : float [m]
        Standard deviation of a single reading.
    n_sites : int [1]
        Sites read, at least 2.
    ttv_limit : float [m]
        Largest TTV allowed.
    largest_share : float [1]
        Share of the limit that noise may take; a fifth by rule of thumb.

    Returns
    -------
    RepeatsAdvice

    Raises
    ------
    OutOfValidRange
        Noise below zero, fewer than two sites, a limit or share not above zero.

    Notes
    -----
    Noise s read m times at n sites opens the TTV of an even wafer by

    .. math:: d_2(n)\, s / \sqrt m

    on average; m is the smallest whole number that brings this to the share of the limit.

    References
    ----------
    .. [1] L. H. C. Tippett, Biometrika 17 (1925) 364-387. Key ``tippett1925``.

    Examples
    --------
    >>> repeats_advice(0.2e-6, n_sites=9, ttv_limit=2e-6).sentence
    '3 repeats at 9 sites needed: noise then opens TTV by 0.34 µm, 17 % of the limit.'
    """
    if not noise >= 0.0:
        raise OutOfValidRange("noise", noise, "zero or more")
    if n_sites < 2:
        raise OutOfValidRange("n_sites", n_sites, "at least 2")
    for name, number in (("ttv_limit", ttv_limit), ("largest_share", largest_share)):
        if not number > 0.0:
            raise OutOfValidRange(name, number, "more than zero")
    once = float(expected_range(np.zeros(n_sites), noise=np.ones(n_sites))) * noise
    allowed = largest_share * ttv_limit
    repeats = max(1, math.ceil((once / allowed) ** 2 * (1.0 - 1e-12)))
    left = once / math.sqrt(repeats)
    plural = "repeat" if repeats == 1 else "repeats"
    return RepeatsAdvice(
        repeats=repeats,
        noise_in_ttv=left,
        share_of_limit=left / ttv_limit,
        with_fewer=once / math.sqrt(repeats - 1) if repeats > 1 else None,
        sentence=(
            f"{repeats} {plural} at {n_sites} sites needed: noise then opens TTV by {left * 1e6:.2f} µm, "
            f"{left / ttv_limit:.0%} of the limit."
        ).replace("%", " %"),
    )
