"""Which stages can be put together for an order: abrasive, plate and load at each place, and chains of them.

Trade rules narrow the choice: the abrasive at least 1.5 times as hard as the sample, the plate by the hardness rule,
the pressure within what is usual. A lap is worked with rates carried over from another material only where the library
has none of this one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from lapwright.errors import CannotAnswer
from lapwright.library import Abrasive, Library, Material
from lapwright.model.order import Order
from lapwright.process.damage import Estimate, damage_left, roughness_left
from lapwright.process.kinematics import area_mean_speed
from lapwright.process.loads import load_for_pressure, outline_area
from lapwright.process.removal import BAND_QUANTILE, RUN_SPREAD, CoefficientPrior, preston_rate, prior_coefficient
from lapwright.process.workplaces import Working, Workplace

HARDNESS_MARGIN = 1.5  # abrasive over sample (common practice)
COARSE_GRAIN = 7e-6  # m; from here up a lap counts as coarse (common practice)
_FINER = 0.6  # a second lap uses a grain at most this share of the first one's
MOST_LAPS = 4
MOST_CHAINS = 400
_USUAL_PRESSURE = {"lap": (5e3, 10e3, 20e3), "polish": (10e3, 20e3, 30e3)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One way to remove stock: where, with what, how hard and how fast. SI.

    `deviation` [1] is that of the logarithm of the next run's rate, `level_deviation` the part of it that one run seen
    would take away; `source` says where the rate comes from and `is_own` whether from runs of this lab. The bath of an
    etch stands in the abrasive's place. `unevenness` is the form it adds as a share of what it takes.
    """

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
    deviation: float
    level_deviation: float
    source: str
    is_own: bool
    unevenness: float | None = None
    speed_share: float = 1.0

    @property
    def usual_speed(self) -> float:
        """Its speed before any change [m/s]."""
        return self.speed / self.speed_share

    @property
    def process(self) -> Working:
        """How it removes stock."""
        return self.workplace.process

    @property
    def is_coarse(self) -> bool:
        """Whether this is a coarse lap."""
        return self.workplace.process == "lap" and self.abrasive.grain >= COARSE_GRAIN


#: Laps from coarse to fine, then at most one etch, then at most one polish.
Chain = tuple[Cut, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RateBelief:
    """What is believed of the next run's rate: median [m/s], log deviations [1], where from, and the row behind it."""

    median: float
    deviation: float
    level_deviation: float
    source: str
    is_own: bool
    prior: CoefficientPrior


#: Gives the belief for material, abrasive, plate, pressure and speed; raises `CannotAnswer` where nothing is known.
RateSource = Callable[[str, Abrasive, str, float, float], RateBelief]


def library_rates(library: Library) -> RateSource:
    """Rates as the library alone lets one believe them.

    Parameters
    ----------
    library : Library
        Rows of removal coefficients.

    Returns
    -------
    RateSource

    Examples
    --------
    >>> from lapwright.library import load
    >>> library = load()
    >>> belief = library_rates(library)("LiTaO3", library.abrasive("sic-jis1000"), "cast-iron", 10e3, 0.5)
    >>> round(belief.median * 60e6, 2)
    5.13
    """

    def believed(material: str, abrasive: Abrasive, plate: str, pressure: float, speed: float) -> RateBelief:
        prior = prior_coefficient(library, material, abrasive=abrasive, plate=plate)
        return RateBelief(
            median=preston_rate(prior.median, pressure, speed),
            deviation=math.hypot(prior.log_deviation, RUN_SPREAD),
            level_deviation=prior.log_deviation,
            source=f"{prior.method}. {prior.origin.sentence()}.",
            is_own=prior.trust == "own",
            prior=prior,
        )

    return believed


def possible_cuts(
    order: Order, library: Library, workplaces: Sequence[Workplace], *, rates: RateSource | None = None
) -> tuple[Cut, ...]:
    """Every cut that the trade rules allow for an order's material.

    Parameters
    ----------
    order : Order
        Material and outline.
    library : Library
        Rows to plan with.
    workplaces : sequence of Workplace
        Where it can be worked.
    rates : RateSource, optional
        What is believed of the rates; the library alone unless given.

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
    source = rates or library_rates(library)
    cuts = [cut for place in workplaces for cut in _cuts_at(order, library, material, place, source)]
    own_rows = {row.row_id for row in library.removal_coefficients if row.material == material.material_id}
    own = [cut for cut in cuts if cut.prior.row_id in own_rows]
    laps = [cut for cut in own if cut.workplace.process == "lap"]
    return tuple(own) if laps else tuple(cuts)


def possible_chains(
    cuts: Sequence[Cut],
    *,
    roughness_limit: float | None,
    etches: Sequence[Cut] = (),
    coarsest: float = math.inf,
    may_skip_laps: bool = False,
) -> Iterator[Chain]:
    """Every chain of one to four ever finer laps and, where the roughness asks for it, an etch and a polish.

    Parameters
    ----------
    cuts : sequence of Cut
        What is possible.
    roughness_limit : float [m], optional
        Largest Ra of the finished face; None when the order has none.
    etches : sequence of Cut
        Baths that may take the damage of the last lap.
    coarsest : float [m]
        The largest grain that may still be used.
    may_skip_laps : bool
        Whether a chain may begin with the polish, as on a face that is lapped already.

    Yields
    ------
    Chain

    Notes
    -----
    Each lap uses a grain at most 0.6 times that of the one before. From three laps on, an abrasive is used only where
    it is fastest.

    Examples
    --------
    >>> list(possible_chains((), roughness_limit=None))
    []
    """
    laps = [cut for cut in cuts if cut.process == "lap" and cut.abrasive.grain <= coarsest]
    finishes: list[Chain] = [(cut,) for cut in cuts if cut.process == "polish"]
    ends = [*finishes, *((etch, *polish) for etch in etches for polish in finishes)]
    if may_skip_laps:
        yield from (end for end in [*ends, *((etch,) for etch in etches)] if is_smooth_enough(end[-1], roughness_limit))
    for lapped in _lap_chains(laps):
        if is_smooth_enough(lapped[-1], roughness_limit):
            yield lapped
            yield from ((*lapped, etch) for etch in etches if is_smooth_enough(etch, roughness_limit))
            continue
        yield from ((*lapped, *end) for end in ends if is_smooth_enough(end[-1], roughness_limit))


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


def changed_cut(
    order: Order, cut: Cut, rates: RateSource, *, pressure: float | None = None, speed_share: float = 1.0
) -> Cut:
    """A cut at another pressure, or with all speeds of its workplace changed by a share.

    Parameters
    ----------
    order : Order
        Material and outline.
    cut : Cut
        As it stands.
    rates : RateSource
        What is believed of the rates.
    pressure : float [Pa], optional
        Another pressure on the piece; as it stands unless given.
    speed_share : float [1]
        Factor on the speeds of plate and jig, so that the paths stay what they are.

    Returns
    -------
    Cut
        An etch comes back as it stands.
    """
    if cut.process == "etch":
        return cut
    wanted = cut.pressure if pressure is None else pressure
    motion = cut.workplace.motion
    turned = replace(motion, plate_speed=speed_share * motion.plate_speed, jig_speed=speed_share * motion.jig_speed)
    speed = speed_share * cut.speed
    belief = rates(order.material, cut.abrasive, cut.workplace.plate, wanted, speed)
    spread = math.exp(BAND_QUANTILE * belief.deviation)
    return replace(
        cut,
        workplace=replace(cut.workplace, motion=turned),
        pressure=wanted,
        load=_load(order, cut.workplace, wanted),
        speed=speed,
        speed_share=cut.speed_share * speed_share,
        rate=belief.median,
        rate_low=belief.median / spread,
        rate_high=belief.median * spread,
        deviation=belief.deviation,
        level_deviation=belief.level_deviation,
    )


def usual_pressures(material: Material, place: Workplace) -> tuple[float, ...]:
    """The pressures to try at a workplace: low end, middle and high end of what is usual for the material.

    Parameters
    ----------
    material : Material
        With the usual windows, where they are known.
    place : Workplace
        Lap or polish.

    Returns
    -------
    tuple of float [Pa]
    """
    window = material.properties.get("lap_pressure" if place.process == "lap" else "polish_pressure")
    if window is None or window.low is None or window.high is None:
        return _USUAL_PRESSURE[place.process]
    return (window.low, window.value, window.high)


# ----------------------------------------------------------------------------------------------------------------------


def _lap_chains(laps: Sequence[Cut]) -> Iterator[Chain]:
    chains: list[Chain] = [(cut,) for cut in laps]
    yield from chains
    fastest: dict[str, Cut] = {}
    for cut in laps:
        if cut.abrasive.abrasive_id not in fastest or cut.rate > fastest[cut.abrasive.abrasive_id].rate:
            fastest[cut.abrasive.abrasive_id] = cut
    for count in range(2, MOST_LAPS + 1):
        usable = laps if count == 2 else tuple(fastest.values())
        chains = [
            (*chain, cut) for chain in chains for cut in usable
            if cut.abrasive.grain <= _FINER * chain[-1].abrasive.grain and (count == 2 or set(chain) <= set(usable))
        ][:MOST_CHAINS]  # fmt: skip
        yield from chains


def _cuts_at(order: Order, library: Library, material: Material, place: Workplace, rates: RateSource) -> Iterator[Cut]:
    plate = library.plate(place.plate)
    hardness = material.value("hardness")
    for abrasive in library.abrasives:
        if abrasive.process != place.process or abrasive.kind not in plate.abrasives:
            continue
        if place.abrasives and abrasive.abrasive_id not in place.abrasives:
            continue
        if place.process == "lap" and not _suits(library, hardness, abrasive, plate.hardness_class):
            continue
        first: Cut | None = None
        for pressure in place.pressures or usual_pressures(material, place):
            if first is None:
                try:
                    first = _cut(
                        order, library, material, place=place, abrasive=abrasive, rates=rates, pressure=pressure
                    )
                except CannotAnswer:
                    break
                yield first
            else:
                yield changed_cut(order, first, rates, pressure=pressure)


def _suits(library: Library, hardness: float | None, abrasive: Abrasive, hardness_class: str) -> bool:
    """Whether abrasive and plate suit the sample's hardness; unknown hardness leaves both open."""
    if hardness is None:
        return True
    rule = library.plate_rule(hardness)
    classes = rule.coarse_classes if abrasive.grain >= COARSE_GRAIN else rule.fine_classes
    return abrasive.hardness >= HARDNESS_MARGIN * hardness and hardness_class in classes


def _cut(
    order: Order,
    library: Library,
    material: Material,
    *,
    place: Workplace,
    abrasive: Abrasive,
    rates: RateSource,
    pressure: float,
) -> Cut:
    speed = area_mean_speed(math.sqrt(outline_area(order.outline) / math.pi), place.motion)
    belief = rates(material.material_id, abrasive, place.plate, pressure, speed)
    spread = math.exp(BAND_QUANTILE * belief.deviation)
    return Cut(
        workplace=place,
        abrasive=abrasive,
        pressure=pressure,
        load=_load(order, place, pressure),
        speed=speed,
        prior=belief.prior,
        rate=belief.median,
        rate_low=belief.median / spread,
        rate_high=belief.median * spread,
        damage=damage_left(library, material.material_id, abrasive),
        roughness=roughness_left(library, material.material_id, abrasive),
        deviation=belief.deviation,
        level_deviation=belief.level_deviation,
        source=belief.source,
        is_own=belief.is_own,
    )


def _load(order: Order, place: Workplace, pressure: float) -> float:
    area = outline_area(order.outline)
    return load_for_pressure(
        pressure, [area] * place.pieces, spring_lift=place.spring_lift, carried_share=place.carried_share
    )
