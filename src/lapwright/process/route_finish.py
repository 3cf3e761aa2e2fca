"""What a route leaves beside thickness and face: the chance that the piece breaks as it comes off, and its free bow.

Both come from `strength_debond` and `release` and are rough; where the library knows no strength of a material the plan
says so instead of counting on none. Coming off its carrier counts by the way that breaks fewest; the others are named.
"""

from __future__ import annotations

import math
from functools import cache

from lapwright.errors import CannotAnswer, NotFound
from lapwright.library import Finish, Library
from lapwright.model.order import Order
from lapwright.process.candidates import Chain
from lapwright.process.ledger import Depth
from lapwright.process.loads import outline_area
from lapwright.process.release import finish_of, released_bow
from lapwright.process.removal import BAND_QUANTILE
from lapwright.process.route_making import Risks, RiskSource
from lapwright.process.strength_debond import DebondChoice, debond_choices

_SMALLEST_BOW = 1e-9  # m; a bow of nothing is drawn as this
USUAL_ADHESIVE = "mounting-wax"
_USUAL_BOND = 5e-6  # m (common practice, no source); it only enters the force that slides


def finish_risks(order: Order, library: Library, *, adhesive: str | None = None) -> RiskSource:
    """Breakage in coming off and being handled, and bow of the released piece, for any chain of an order.

    Parameters
    ----------
    order : Order
        Material, outline, target thickness and limits.
    library : Library
        Strengths and elastic properties.
    adhesive : str, optional
        What holds the wafers, as the library calls it; mounting wax when not known.

    Returns
    -------
    RiskSource

    Notes
    -----
    An outline that is no disc counts as the disc of its area. Bow is looked at only where the order limits it; the
    other face is taken as polished, as most wafers come. Free or on a full-face support as `debond_choices` says.

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
        return of_finish("polished" if last.process != "lap" else finish_of("lap", last.abrasive.grain))

    @cache
    def of_finish(finish: Finish) -> Risks:
        sentences = []
        breakage: float | None = None
        try:
            ways = debond_choices(
                library, material=material, finish=finish, thickness=order.target_thickness, diameter=diameter,
                adhesive=adhesive or USUAL_ADHESIVE, bond=_USUAL_BOND,
            )  # fmt: skip
            breakage = ways[0].chance.expected
            sentences.append(_coming_off(ways))
        except (NotFound, CannotAnswer) as error:
            sentences.append(f"Breakage is not estimated: {error.sentence}")
        return Risks(breakage=breakage, bow=_bow(finish, sentences), sentences=tuple(sentences))

    def _bow(finish: Finish, sentences: list[str]) -> Depth | None:
        if order.limit("bow") is None and order.limit("warp") is None:
            return None
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


def _coming_off(ways: tuple[DebondChoice, ...]) -> str:
    """The way counted with its chance, and the ways that cost more."""
    best = ways[0]
    how = "on a full-face support" if best.needs_support else "free in the hand"
    said = (
        f"Breakage in coming off and handling: {_percent(best.chance.expected)} by {best.name}, {how} "
        f"({_percent(best.chance.low)} to {_percent(best.chance.high)}; rough)."
    )
    worse = [
        f"{one.name} {_percent(one.chance.expected)}"
        for one in ways[1:]
        if one.chance.expected > 1.05 * best.chance.expected
    ]
    return said + (f" Otherwise: {', '.join(worse)}." if worse else "")


def _percent(chance: float) -> str:
    return "less than 0.01 %" if chance < 1e-4 else f"{100.0 * chance:.2g} %"
