"""How much each stage takes, planned backwards from the finish.

Each stage removes at least the damage of the one before with a margin, the form that is left, and twice the standard
uncertainty of thickness and stop; the first lap takes what is over.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from lapwright.errors import OutOfValidRange
from lapwright.model.order import Order
from lapwright.model.readings import Gauge
from lapwright.process.candidates import Chain, Cut
from lapwright.process.workplaces import Assumptions


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What one stage must take at least [m], and the three parts of it."""

    damage: float
    form: float
    uncertainty: float

    @property
    def total(self) -> float:
        """The least removal at the centre [m]."""
        return self.damage + self.form + self.uncertainty


def stage_minimum(
    damage_before: float, form_before: float, standard_uncertainty: float, *, damage_multiple: float = 1.5
) -> Need:
    r"""Least that a stage must remove at the centre.

    Parameters
    ----------
    damage_before : float [m]
        Damage left by the stage before.
    form_before : float [m]
        Form still to take out: half the TTV and half the wedge.
    standard_uncertainty : float [m]
        Of thickness and stop of this stage.
    damage_multiple : float [1]
        Margin on the damage; 1.2 to 2 is usual.

    Returns
    -------
    Need

    Raises
    ------
    OutOfValidRange
        A negative part, or a multiple below 1.

    Notes
    -----
    .. math:: h_k \ge m\,d_{k-1} + f_{k-1} + 2u_k

    m = 1.5 covers a depth that is half as deep again as expected, no more (common practice, no source).

    Examples
    --------
    >>> round(stage_minimum(7e-6, 1e-6, 1e-6).total * 1e6, 3)
    13.5
    """
    for name, value in (
        ("damage_before", damage_before),
        ("form_before", form_before),
        ("standard_uncertainty", standard_uncertainty),
    ):
        if not value >= 0.0:
            raise OutOfValidRange(name, value, "zero or more [m]")
    if not damage_multiple >= 1.0:
        raise OutOfValidRange("damage_multiple", damage_multiple, "1 or more")
    return Need(damage=damage_multiple * damage_before, form=form_before, uncertainty=2.0 * standard_uncertainty)


def chain_needs(
    order: Order,
    chain: Chain,
    gauge: Gauge,
    assumptions: Assumptions,
    *,
    multiples: Sequence[float] | None = None,
) -> tuple[Need, ...]:
    """What each cut of a chain must take at least, in the order worked.

    Parameters
    ----------
    order : Order
        Start TTV and damage.
    chain : Chain
        Cuts from first to last.
    gauge : Gauge
        What thickness is measured with.
    assumptions : Assumptions
        Forms, stop errors and the margin on damage.
    multiples : sequence of float [1], optional
        A margin on damage for each cut; that of the assumptions unless given.

    Returns
    -------
    tuple of Need

    Notes
    -----
    The uncertainty of a stage is the gauge's limit taken as rectangular, and the stop error, added in squares.
    """
    needs = []
    damage = order.start_damage
    form = first_form(order, assumptions)
    for cut, multiple in zip(chain, multiples or [assumptions.damage_multiple] * len(chain), strict=True):
        uncertainty = stage_uncertainty(cut, gauge, assumptions)
        needs.append(stage_minimum(damage, form, uncertainty, damage_multiple=multiple))
        damage = cut.damage.expected
        form = assumptions.form_after_coarse if cut.is_coarse else assumptions.form_after_fine
    return tuple(needs)


def first_form(order: Order, assumptions: Assumptions) -> float:
    """Form that the first cut has to take out: half the incoming TTV and half the wedge of the bond.

    Parameters
    ----------
    order : Order
        Start TTV, if known.
    assumptions : Assumptions
        What stands in for it.

    Returns
    -------
    float [m]
    """
    ttv = assumptions.start_ttv if order.start_ttv is None else order.start_ttv
    return 0.5 * (ttv + assumptions.bond_wedge)


def stage_uncertainty(cut: Cut, gauge: Gauge, assumptions: Assumptions) -> float:
    """Standard uncertainty of thickness and stop at the end of a cut.

    Parameters
    ----------
    cut : Cut
        Lap or polish.
    gauge : Gauge
        What thickness is measured with.
    assumptions : Assumptions
        Stop errors.

    Returns
    -------
    float [m]
    """
    lap = cut.workplace.process == "lap"
    stop = assumptions.lap_stop_error if lap else assumptions.polish_stop_error
    return math.hypot(gauge.limit / math.sqrt(3.0), stop)


def removals(stock: float, needs: tuple[Need, ...]) -> tuple[float, ...] | None:
    """Removal of each cut: the least each needs, and the rest of the stock to the first; None when it does not suffice.

    Parameters
    ----------
    stock : float [m]
        Incoming less finished thickness.
    needs : tuple of Need
        In the order worked.

    Returns
    -------
    tuple of float [m] or None
        Adds up to the stock.

    Examples
    --------
    >>> need = Need(damage=3e-6, form=1e-6, uncertainty=1e-6)
    >>> [round(part * 1e6, 3) for part in removals(400e-6, (need, need))]
    [395.0, 5.0]
    """
    later = tuple(need.total for need in needs[1:])
    first = stock - math.fsum(later)
    if first < needs[0].total:
        return None
    return (first, *later)


def least_stock(needs: tuple[Need, ...]) -> float:
    """The least stock a chain can work with.

    Parameters
    ----------
    needs : tuple of Need
        In the order worked.

    Returns
    -------
    float [m]
    """
    return math.fsum(need.total for need in needs)
