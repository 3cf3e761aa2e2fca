"""What a route leaves beside thickness and face: the chance that the released piece breaks, and its free bow.

Both come from `strength_handling` and `release` and are rough; where the library knows no strength of a material the
plan says so instead of counting on none.
"""

from __future__ import annotations

import math

from lapwright.errors import CannotAnswer, NotFound
from lapwright.library import Library
from lapwright.model.order import Order
from lapwright.process.candidates import Chain
from lapwright.process.ledger import Depth
from lapwright.process.loads import outline_area
from lapwright.process.planning import Risks, RiskSource
from lapwright.process.release import finish_of, released_bow
from lapwright.process.removal import BAND_QUANTILE
from lapwright.process.strength_handling import handling_breakage

_SMALLEST_BOW = 1e-9  # m; a bow of nothing is drawn as this


def finish_risks(order: Order, library: Library) -> RiskSource:
    """Breakage and bow of the released piece for any chain of an order.

    Parameters
    ----------
    order : Order
        Material, outline, target thickness and limits.
    library : Library
        Strengths and elastic properties.

    Returns
    -------
    RiskSource

    Notes
    -----
    An outline that is no disc counts as the disc of its area. Bow is looked at only where the order limits it; the
    other face is taken as polished, as most wafers come.

    Examples
    --------
    >>> from lapwright.library import load
    >>> from lapwright.model.order import Limit
    >>> from lapwright.model.wafer import Round
    >>> order = Order(order_id="A", customer="B", material="Si", outline=Round(diameter=0.1), quantity=1,
    ...     start_thickness=525e-6, target_thickness=200e-6, limits=(Limit(quantity="ttv", upper=5e-6),),
    ...     edge_exclusion=3e-3, hold="free")
    >>> callable(finish_risks(order, load()))
    True
    """
    diameter = 2.0 * math.sqrt(outline_area(order.outline) / math.pi)
    material = library.material(order.material).material_id

    def risks(chain: Chain) -> Risks:
        last = chain[-1]
        finish = "polished" if last.process != "lap" else finish_of("lap", last.abrasive.grain)
        sentences = []
        breakage: float | None = None
        try:
            found = handling_breakage(
                library, material=material, finish=finish, thickness=order.target_thickness, diameter=diameter
            )
            breakage = found.expected
            sentences.append(
                f"Breakage in handling once released: {_percent(found.expected)} "
                f"({_percent(found.low)} to {_percent(found.high)}; rough)."
            )
        except (NotFound, CannotAnswer) as error:
            sentences.append(f"Breakage is not estimated: {error.sentence}")
        return Risks(breakage=breakage, bow=_bow(chain, sentences), sentences=tuple(sentences))

    def _bow(chain: Chain, sentences: list[str]) -> Depth | None:
        if order.limit("bow") is None and order.limit("warp") is None:
            return None
        last = chain[-1]
        finish = "polished" if last.process != "lap" else finish_of("lap", last.abrasive.grain)
        try:
            found = released_bow(
                library, material=material, finish=finish, other_finish="polished",
                thickness=order.target_thickness, diameter=diameter,
            )  # fmt: skip
        except (NotFound, CannotAnswer) as error:
            sentences.append(f"Bow is not estimated: {error.sentence}")
            return None
        sentences.append(found.sentence)
        size = max(abs(found.expected), _SMALLEST_BOW)
        high = max(abs(found.low), abs(found.high), size)
        return Depth(median=size, log_deviation=math.log(high / size) / BAND_QUANTILE)

    return risks


def _percent(chance: float) -> str:
    return "less than 0.01 %" if chance < 1e-4 else f"{100.0 * chance:.2g} %"
