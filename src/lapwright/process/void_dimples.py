"""What a void under a wafer does: unsupported, the wafer bends away under the load, is cut less and stays thick."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from lapwright.errors import OutOfValidRange
from lapwright.process.sensible import need_length, need_positive

VoidOutcome = Literal["none", "small", "watch", "rebond"]
#: Longest void that is passed over [m] (common practice, no source).
LONGEST_PASSED = 1.0e-3
#: Share of the thickness limit that a dimple may take (own judgement; the same third is allowed to a bond's wedge).
DIMPLE_SHARE = 1.0 / 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class VoidVerdict:
    """What the voids of a bond mean: the outcome and why. `dimple` is what the longest would leave [m]."""

    outcome: VoidOutcome
    dimple: float | None
    reason: str


def dimple_height(
    *, thickness: float, diameter: float, pressure: float, youngs_modulus: float, poisson_ratio: float
) -> float:
    r"""How much too thick a wafer stays over a void: the sag of an unsupported disc, clamped at its rim.

    Parameters
    ----------
    thickness : float [m]
        Of the wafer when it is worked.
    diameter : float [m]
        Of the void.
    pressure : float [Pa]
        On the wafer.
    youngs_modulus : float [Pa]
        Of the wafer.
    poisson_ratio : float [1]
        Of the wafer, 0 to 0.5.

    Returns
    -------
    float [m]

    Raises
    ------
    OutOfValidRange
        A length, pressure or modulus not above zero, or a ratio outside 0 to 0.5.

    Notes
    -----
    .. math:: w_0 = \frac{p a^4}{64 D}, \quad a = \frac{d}{2}, \; D = \frac{E t^3}{12 (1 - \nu^2)}

    The wafer gives way by so much while it is cut and springs back afterwards. An upper limit once it passes half the
    thickness, and where the void is small against the thickness shear adds to it. A long void sags more than a round
    one of its area and less than a round one of its length; its length is taken.

    References
    ----------
    .. [1] S. Timoshenko, S. Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. (1959), art. 17, eq. (62).
       Key ``timoshenko1959``.

    Examples
    --------
    >>> sag = dimple_height(thickness=1e-4, diameter=4e-3, pressure=10e3, youngs_modulus=130e9, poisson_ratio=0.28)
    >>> round(sag * 1e6, 2)
    0.21
    """
    need_length("thickness", thickness)
    need_length("diameter", diameter)
    need_positive(pressure=pressure, youngs_modulus=youngs_modulus)
    if not 0.0 <= poisson_ratio < 0.5:
        raise OutOfValidRange("poisson_ratio", poisson_ratio, "from 0 to less than 0.5")
    rigidity = youngs_modulus * thickness**3 / (12.0 * (1.0 - poisson_ratio**2))
    return pressure * (diameter / 2.0) ** 4 / (64.0 * rigidity)


def void_verdict(lengths: Sequence[float], *, dimple: float | None, ttv_limit: float | None) -> VoidVerdict:
    """Whether the voids of a bond may stay.

    Parameters
    ----------
    lengths : sequence of float [m]
        Greatest width of each void.
    dimple : float, optional [m]
        What the longest would leave on the finished wafer; None where it cannot be told.
    ttv_limit : float, optional [m]
        What the order allows.

    Returns
    -------
    VoidVerdict
        ``none`` without a void, ``small`` when none is longer than 1 mm, ``watch`` for longer ones whose dimple takes
        less than a third of the limit, ``rebond`` where it takes more or cannot be told.

    Examples
    --------
    >>> void_verdict([0.6e-3], dimple=1e-9, ttv_limit=2e-6).outcome, void_verdict([6e-3], dimple=1e-6,
    ...                                                                            ttv_limit=2e-6).outcome
    ('small', 'rebond')
    """
    if not lengths:
        return VoidVerdict(outcome="none", dimple=None, reason="No void is seen.")
    longest = max(lengths)
    size = f"The longest void is {longest * 1e3:.1f} mm"
    if longest <= LONGEST_PASSED:
        return VoidVerdict(
            outcome="small", dimple=dimple, reason=f"{size}; up to {LONGEST_PASSED * 1e3:g} mm is passed over."
        )
    if dimple is None or ttv_limit is None:
        reason = f"{size}, longer than {LONGEST_PASSED * 1e3:g} mm, and what it would leave cannot be told. Bond again."
        return VoidVerdict(outcome="rebond", dimple=dimple, reason=reason)
    leaves = f"{size}: over it the finished wafer would stay {dimple * 1e6:.2g} µm too thick"
    allowed = DIMPLE_SHARE * ttv_limit
    if dimple > allowed:
        reason = f"{leaves}, more than a third of the limit ({allowed * 1e6:.2g} µm). Bond again."
        return VoidVerdict(outcome="rebond", dimple=dimple, reason=reason)
    reason = f"{leaves}, less than a third of the limit ({allowed * 1e6:.2g} µm). Go on, and look there on every map."
    return VoidVerdict(outcome="watch", dimple=dimple, reason=reason)
