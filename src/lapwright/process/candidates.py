"""Which stages can be put together for an order: abrasive, plate and load at each place, and chains of them.

Trade rules narrow the choice: the abrasive at least 1.5 times as hard as the sample, the plate by the hardness rule,
the pressure within what is usual. A lap is worked with rates carried over from another material only where the library
has none of this one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from lapwright.errors import CannotAnswer
from lapwright.library import Abrasive, Library, Material
from lapwright.model.order import Order
from lapwright.process.damage import Estimate, damage_left, roughness_left
from lapwright.process.kinematics import area_mean_speed
from lapwright.process.loads import load_for_pressure, outline_area
from lapwright.process.removal import CoefficientPrior, predicted_rate, prior_coefficient
from lapwright.process.workplaces import Workplace

HARDNESS_MARGIN = 1.5  # abrasive over sample (common practice)
COARSE_GRAIN = 7e-6  # m; from here up a lap counts as coarse (common practice)
_FINER = 0.6  # a second lap uses a grain at most this share of the first one's
_USUAL_PRESSURE = {"lap": (5e3, 10e3, 20e3), "polish": (10e3, 20e3, 30e3)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One way to remove stock: where, with what, how hard and how fast. SI."""

    workplace: Workplace
    abrasive: Abrasive
    pressure: float
    load: float
    speed: float
    prior: CoefficientPrior
    rate: float
    rate_low: float
    rate_high: float
    damage: Estimate
    roughness: Estimate | None

    @property
    def is_coarse(self) -> bool:
        """Whether this is a coarse lap."""
        return self.workplace.process == "lap" and self.abrasive.grain >= COARSE_GRAIN


#: Laps from coarse to fine, then at most one polish.
Chain = tuple[Cut, ...]


def possible_cuts(order: Order, library: Library, workplaces: Sequence[Workplace]) -> tuple[Cut, ...]:
    """Every cut that the trade rules allow for an order's material.

    Parameters
    ----------
    order : Order
        Material and outline.
    library : Library
        Rows to plan with.
    workplaces : sequence of Workplace
        Where it can be worked.

    Returns
    -------
    tuple of Cut
        Laps and polishes; empty when the library knows no rate at all.

    Raises
    ------
    NotFound
        A material or plate the library does not hold.

    Examples
    --------
    >>> from lapwright.library import load
    >>> from lapwright.model.order import Limit
    >>> from lapwright.model.wafer import Round
    >>> from lapwright.process.workplaces import USUAL_WORKPLACES
    >>> order = Order(order_id="A", customer="B", material="LiTaO3", outline=Round(diameter=0.0508), quantity=1,
    ...     start_thickness=5e-4, target_thickness=1e-4, limits=(Limit(quantity="ttv", upper=2e-6),),
    ...     edge_exclusion=2e-3, hold="free")
    >>> sorted({cut.abrasive.kind for cut in possible_cuts(order, load(), USUAL_WORKPLACES)})
    ['alumina', 'colloidal_silica', 'green_sic']
    """
    material = library.material(order.material)
    cuts = [cut for place in workplaces for cut in _cuts_at(order, library, material, place)]
    own_rows = {row.row_id for row in library.removal_coefficients if row.material == material.material_id}
    own = [cut for cut in cuts if cut.prior.row_id in own_rows]
    laps = [cut for cut in own if cut.workplace.process == "lap"]
    return tuple(own) if laps else tuple(cuts)


def possible_chains(cuts: Sequence[Cut], *, roughness_limit: float | None) -> Iterator[Chain]:
    """Every chain of one or two laps and, where the roughness asks for it, a polish.

    Parameters
    ----------
    cuts : sequence of Cut
        What is possible.
    roughness_limit : float [m], optional
        Largest Ra of the finished face; None when the order has none.

    Yields
    ------
    Chain

    Examples
    --------
    >>> list(possible_chains((), roughness_limit=None))
    []
    """
    laps = [cut for cut in cuts if cut.workplace.process == "lap"]
    polishes = [cut for cut in cuts if cut.workplace.process == "polish"]
    pairs = [
        (first, second) for first in laps for second in laps if second.abrasive.grain <= _FINER * first.abrasive.grain
    ]
    for lapped in [*((cut,) for cut in laps), *pairs]:
        if is_smooth_enough(lapped[-1], roughness_limit):
            yield lapped
            continue
        for polish in polishes:
            if is_smooth_enough(polish, roughness_limit):
                yield (*lapped, polish)


def is_smooth_enough(cut: Cut, roughness_limit: float | None) -> bool:
    """Whether a cut leaves a face below a roughness limit, by the high end of what is known.

    Parameters
    ----------
    cut : Cut
        The last of a route.
    roughness_limit : float [m], optional
        Largest Ra; None is no limit.

    Returns
    -------
    bool
    """
    if roughness_limit is None:
        return True
    return cut.roughness is not None and cut.roughness.high <= roughness_limit


# ----------------------------------------------------------------------------------------------------------------------


def _cuts_at(order: Order, library: Library, material: Material, place: Workplace) -> Iterator[Cut]:
    plate = library.plate(place.plate)
    hardness = material.value("hardness")
    for abrasive in library.abrasives:
        if abrasive.process != place.process or abrasive.kind not in plate.abrasives:
            continue
        if place.abrasives and abrasive.abrasive_id not in place.abrasives:
            continue
        if place.process == "lap" and not _suits(library, hardness, abrasive, plate.hardness_class):
            continue
        try:
            prior = prior_coefficient(library, material.material_id, abrasive=abrasive, plate=place.plate)
        except CannotAnswer:
            continue
        for pressure in place.pressures or _pressures(material, place):
            yield _cut(order, library, material, place=place, abrasive=abrasive, prior=prior, pressure=pressure)


def _suits(library: Library, hardness: float | None, abrasive: Abrasive, hardness_class: str) -> bool:
    """Whether abrasive and plate suit the sample's hardness; unknown hardness leaves both open."""
    if hardness is None:
        return True
    rule = library.plate_rule(hardness)
    classes = rule.coarse_classes if abrasive.grain >= COARSE_GRAIN else rule.fine_classes
    return abrasive.hardness >= HARDNESS_MARGIN * hardness and hardness_class in classes


def _pressures(material: Material, place: Workplace) -> tuple[float, ...]:
    window = material.properties.get("lap_pressure" if place.process == "lap" else "polish_pressure")
    if window is None or window.low is None or window.high is None:
        return _USUAL_PRESSURE[place.process]
    return (window.low, window.value, window.high)


def _cut(
    order: Order,
    library: Library,
    material: Material,
    *,
    place: Workplace,
    abrasive: Abrasive,
    prior: CoefficientPrior,
    pressure: float,
) -> Cut:
    area = outline_area(order.outline)
    speed = area_mean_speed(math.sqrt(area / math.pi), place.motion)
    rate = predicted_rate(prior, pressure, speed)
    load = load_for_pressure(
        pressure, [area] * place.pieces, spring_lift=place.spring_lift, carried_share=place.carried_share
    )
    return Cut(
        workplace=place,
        abrasive=abrasive,
        pressure=pressure,
        load=load,
        speed=speed,
        prior=prior,
        rate=rate.median,
        rate_low=rate.low,
        rate_high=rate.high,
        damage=damage_left(library, material.material_id, abrasive),
        roughness=roughness_left(library, material.material_id, abrasive),
    )
