"""Time, cost and chance of a chain of cuts at every load, speed and split of the stock, by closed forms.

What a chain takes in each stage is planned backwards from the finish (`budget`), with the margin on damage as a free
choice from the trade's rule upwards. The chance multiplies the limits as if they were independent; jobs drawn one by
one (`chance`) differ from it in the second or third digit.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from lapwright.library import Library
from lapwright.metrology.distributions import normal_cdf
from lapwright.model.order import Order
from lapwright.process.budget import chain_needs
from lapwright.process.candidates import Chain, Cut, RateSource, changed_cut, usual_pressures
from lapwright.process.ledger import Depth
from lapwright.process.route_cost import cutting_cost, expected_loss, machine_hour
from lapwright.process.spread_learning import TAIL
from lapwright.process.stages import Setting, depth_of, part_count

Array = NDArray[np.float64]
#: Margins on the damage that are tried, as factors on the trade's rule: for the laps, and for the finish.
LAP_MARGINS = (1.0, 4.0 / 3.0, 2.0)
FINISH_MARGINS = (1.0, 4.0 / 3.0, 5.0 / 3.0, 2.0, 7.0 / 3.0, 8.0 / 3.0, 10.0 / 3.0)
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(9)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()
_FEW, _FEW_WEIGHTS = np.polynomial.hermite_e.hermegauss(5)
_FEW_WEIGHTS = _FEW_WEIGHTS / _FEW_WEIGHTS.sum()
_BIAS = np.linspace(-1.0, 1.0, 9) * 8.0 / 9.0  # middles of nine equal shares of the gauge's limit

#: A place and an abrasive.
ToolKey = tuple[str, str]
#: Each cut at each of its loads (rows) and speeds (columns).
Variants = Mapping[ToolKey, Sequence[Sequence[Cut]]]


@dataclass(frozen=True, slots=True)
class Grid:
    """A chain at all its loads and speeds (rows) and splits of the stock (columns): time [s], cost, chance [1].

    `usual` and `gentle` are the rows at the middle of what is usual, and at the lowest loads.
    """

    chain: Chain
    options: tuple[Chain, ...]
    splits: tuple[tuple[float, float], ...]
    time: Array
    cost: Array
    chance: Array
    usual: int
    gentle: int


def weigh(
    setting: Setting,
    chain: Chain,
    variants: Variants,
    *,
    splits: tuple[tuple[float, float], ...] | None = None,
) -> Grid | None:
    """Time, cost and chance of a chain at every load, speed and split.

    Parameters
    ----------
    setting : Setting
        Order, library, gauge, assumptions, prices.
    chain : Chain
        Cuts from first to last.
    variants : mapping
        Each cut at its loads and speeds; empty takes the chain as it stands.
    splits : tuple of pairs, optional
        Margins on damage of laps and finish [1]; those of the search unless given.

    Returns
    -------
    Grid or None
        None when the chain never fits into the stock.
    """
    tried = splits or _splits(setting)
    taken, fits = _taken(setting, chain, tried)
    if not fits.any():
        return None
    tried = tuple(split for split, good in zip(tried, fits, strict=True) if good)
    taken = taken[:, fits]
    options, usual, gentle = _options(chain, variants)
    slowness = np.array([[1.0 / cut.rate for cut in option] for option in options])
    hours = [
        machine_hour(setting.prices, process=cut.process, abrasive_kind=cut.abrasive.kind, plate=cut.workplace.plate)
        for cut in chain
    ]
    around = _around(setting, chain)
    time = slowness @ taken + around
    cost = (slowness * np.array(hours)) @ taken / 3600.0 + (
        setting.prices.piece_price + cutting_cost(setting.prices, hour=0.0, time=0.0, around=around)
    )
    chance = _screened_chance(setting, chain, options, taken)
    if setting.prices.wafer is not None:
        cost = cost + expected_loss(setting.prices, 0.0) * (1.0 - chance)
    return Grid(chain, options, tried, time, cost, chance, usual, gentle)


def cut_variants(setting: Setting, chains: Sequence[Chain], rates: RateSource) -> Variants:
    """Each cut of some chains at each of its loads and speeds.

    Parameters
    ----------
    setting : Setting
        Order and library.
    chains : sequence of Chain
        At the middle pressure and usual speed.
    rates : RateSource
        What is believed of the rates.

    Returns
    -------
    mapping of place and abrasive to rows of Cut
    """
    found: dict[ToolKey, list[list[Cut]]] = {}
    for cut in dict.fromkeys(cut for chain in chains for cut in chain):
        if cut.process != "etch":
            found[_key(cut)] = [
                [
                    changed_cut(setting.order, cut, rates, pressure=load, speed_share=share)
                    for share in cut.workplace.speeds
                ]
                for load in screened_loads(setting.order, setting.library, cut)
            ]
    return found


def screened_loads(order: Order, library: Library, cut: Cut) -> tuple[float, ...]:
    """The pressures that are tried for a cut, from low to high.

    Parameters
    ----------
    order : Order
        Material.
    library : Library
        Usual windows.
    cut : Cut
        At any pressure.

    Returns
    -------
    tuple of float [Pa]
    """
    return cut.workplace.pressures or usual_pressures(library.material(order.material), cut.workplace)


def split_stock(setting: Setting, chain: Chain, *, lap_multiple: float, finish_multiple: float) -> Array | None:
    """What each cut of a chain takes at these margins on damage.

    Parameters
    ----------
    setting : Setting
        Order, gauge and assumptions.
    chain : Chain
        Cuts from first to last.
    lap_multiple : float [1]
        Margin on damage of all stages but the last.
    finish_multiple : float [1]
        Margin on damage of the last stage.

    Returns
    -------
    float array, shape (n,) [m] or None
        Adds up to the stock; None when the stock does not suffice.
    """
    taken, fits = _taken(setting, chain, ((lap_multiple, finish_multiple),))
    return taken[:, 0] if fits[0] else None


def finished_form(setting: Setting, chain: Chain, last_removal: float) -> float:
    """Form of the finished face without its wedge: what a lap leaves, and what a polish or an etch adds.

    Parameters
    ----------
    setting : Setting
        Assumptions.
    chain : Chain
        The route's cuts.
    last_removal : float [m]
        What the last cut takes.

    Returns
    -------
    float [m]
    """
    last = chain[-1]
    if last.process == "lap":
        return setting.assumptions.final_form
    share = setting.assumptions.polish_unevenness if last.unevenness is None else last.unevenness
    return setting.assumptions.final_form + share * last_removal


# ----------------------------------------------------------------------------------------------------------------------


def _key(cut: Cut) -> ToolKey:
    return cut.workplace.name, cut.abrasive.abrasive_id


def _splits(setting: Setting) -> tuple[tuple[float, float], ...]:
    rule = setting.assumptions.damage_multiple
    return tuple((rule * laps, rule * finish) for laps, finish in product(LAP_MARGINS, FINISH_MARGINS))


def _options(chain: Chain, variants: Variants) -> tuple[tuple[Chain, ...], int, int]:
    """The chain at every load and speed, one choice for all laps and one for the polish; the usual and gentle ones."""
    if not variants:
        return (chain,), 0, 0
    laps = [variants[_key(cut)] for cut in chain if cut.process == "lap"]
    polishes = [variants[_key(cut)] for cut in chain if cut.process == "polish"]
    sizes = [
        size for tables in (laps, polishes) for size in ((len(tables[0]), len(tables[0][0])) if tables else (1, 1))
    ]
    options, choices = [], list(product(*(range(size) for size in sizes)))
    for lap_load, lap_speed, polish_load, polish_speed in choices:
        options.append(tuple(_chosen(chain, variants, (lap_load, lap_speed), (polish_load, polish_speed))))
    middle = tuple(size // 2 for size in sizes)
    slowest = tuple(0 if place % 2 == 0 else size // 2 for place, size in enumerate(sizes))
    return tuple(options), choices.index(middle), choices.index(slowest)


def _chosen(chain: Chain, variants: Variants, lap: tuple[int, int], polish: tuple[int, int]) -> Iterator[Cut]:
    for cut in chain:
        if cut.process == "etch":
            yield cut
            continue
        table = variants[_key(cut)]
        load, speed = lap if cut.process == "lap" else polish
        row = table[min(load, len(table) - 1)]
        yield row[min(speed, len(row) - 1)]


def _taken(setting: Setting, chain: Chain, splits: Sequence[tuple[float, float]]) -> tuple[Array, NDArray[np.bool_]]:
    """Removal of each cut (rows) at each split (columns), and at which splits the stock suffices."""
    needs = chain_needs(setting.order, chain, setting.gauge, setting.assumptions)
    rule = setting.assumptions.damage_multiple
    damage = np.array([need.damage / rule for need in needs])
    rest = np.array([need.form + need.uncertainty for need in needs])
    margins = np.array([[laps] * (len(chain) - 1) + [finish] for laps, finish in splits]).T
    least = margins * damage[:, None] + rest[:, None]
    stock = setting.order.start_thickness - setting.order.target_thickness
    taken = least.copy()
    taken[0] = stock - least[1:].sum(axis=0)
    fits = taken[0] >= least[0] - 1e-15
    if setting.is_under_way and len(chain) == 1:  # what is left is left: the chance says whether it suffices
        fits[:] = True
    return taken, fits


def _around(setting: Setting, chain: Chain) -> float:
    """Time of rinsing and measuring after every part, and of the first measurement."""
    handling = setting.assumptions.measuring_time + setting.assumptions.cleaning_time
    return setting.assumptions.measuring_time + handling * sum(part_count(cut) for cut in chain)


def _screened_chance(setting: Setting, chain: Chain, options: tuple[Chain, ...], taken: Array) -> Array:
    """Chance of every option and split by closed forms; what is drawn later differs in the third digit."""
    fixed = np.array([
        _damage_held(setting, chain, column) * _ttv_held(setting, chain, float(column[-1])) for column in taken.T
    ])  # fmt: skip
    held: Array = _thickness_held(setting, options, taken) * fixed * _finish_held(setting, chain)
    return held


def _thickness_held(setting: Setting, options: tuple[Chain, ...], taken: Array) -> Array:
    limit = setting.order.limit("thickness")
    shape = (len(options), taken.shape[1])
    if limit is None:
        return np.ones(shape)
    assumed, gauge = setting.assumptions, setting.gauge
    local = (0.3e-6 if gauge.local is None else gauge.local) / math.sqrt(3.0)
    last = options[0][-1]
    if last.process == "lap":
        late = np.array([option[-1].rate for option in options])[:, None] * assumed.stop_delay_spread
        stop = assumed.lap_stop_error**2 + late**2
        scales = _scales(assumed.lap_stop_doubt)
        spreads = [np.sqrt(local**2 + stop * scale**2) * np.ones(shape) for scale in scales]
    else:
        rest = 0.1 * taken[-1][None, :] * assumed.day_spread
        spreads = [np.sqrt(local**2 + assumed.polish_stop_error**2 + rest**2) * np.ones(shape)]
    room_up = math.inf if limit.upper is None else limit.upper - setting.order.target_thickness
    room_down = math.inf if limit.lower is None else setting.order.target_thickness - limit.lower
    held_mean = np.zeros(shape)
    for spread, weight in zip(spreads, (1.0,) if len(spreads) == 1 else _FEW_WEIGHTS, strict=True):
        for bias in _BIAS * gauge.limit:
            held_mean += weight / _BIAS.size * (_phi((room_up - bias) / spread) - _phi((-room_down - bias) / spread))
    if last.process == "lap" and math.isfinite(room_down):
        left = taken[-1] * np.clip(2.0 * assumed.watch_error / taken[-1], 0.05, 0.15)  # what the first stop leaves
        watch = assumed.watch_error * _scales(assumed.watch_doubt)
        held_mean = held_mean * (_FEW_WEIGHTS @ _phi((left + room_down)[None, :] / watch[:, None]))[None, :]
    return held_mean


def _scales(doubt: float) -> Array:
    """Five factors on the deviation of a stop, with `_FEW_WEIGHTS`: what is unknown of the lab, and the tails."""
    scales: Array = np.exp(math.hypot(doubt, TAIL) * _FEW - TAIL**2)
    return scales


def _damage_held(setting: Setting, chain: Chain, taken: Array) -> float:
    """Chance that no earlier damage outlasts the last cut, each depth by itself."""
    own = chain[-1].damage.expected
    held = 1.0
    layers = [(setting.start, 0.0, float(taken.sum()))]
    for index, cut in enumerate(chain[:-1]):
        form = setting.assumptions.form_after_coarse if cut.is_coarse else setting.assumptions.form_after_fine
        layers.append((depth_of(cut.damage), form, float(taken[index + 1 :].sum())))
    watch = setting.assumptions.watch_error
    errors = np.outer(_scales(setting.assumptions.watch_doubt), watch * _NODES).ravel()
    chances = np.outer(_FEW_WEIGHTS, _WEIGHTS).ravel()
    for index, (depth, form, removed) in enumerate(layers):
        reached = removed - form + own
        cut = chain[index - 1]
        left = float(taken[index - 1]) * 0.15 if index > 0 and cut.process == "lap" else math.inf
        if left > 6.0 * watch or depth.median == 0.0:
            held *= _shallower(depth, reached)
            continue
        overruns = np.maximum(errors - left, 0.0)  # a first stop may take what was meant for the stages after
        over = overruns > 0.0
        held *= float(chances[~over].sum()) * _shallower(depth, reached) + math.fsum(
            weight * _shallower(depth, reached - overrun)
            for weight, overrun in zip(chances[over].tolist(), overruns[over].tolist(), strict=True)
        )
    return held


def _shallower(depth: Depth, limit: float) -> float:
    if depth.median == 0.0:
        return 1.0
    if limit <= 0.0:
        return 0.0
    if depth.log_deviation == 0.0:
        return 1.0 if depth.median <= limit else 0.0
    return normal_cdf(math.log(limit / depth.median) / depth.log_deviation)


def _ttv_held(setting: Setting, chain: Chain, last_removal: float) -> float:
    limit = setting.order.limit("ttv")
    if limit is None or limit.upper is None:
        return 1.0
    forms = finished_form(setting, chain, last_removal) * np.exp(setting.assumptions.form_spread * _NODES)
    room = np.maximum(limit.upper - forms, 0.0)
    wedge = setting.assumptions.wedge_deviation * np.exp(setting.assumptions.wedge_doubt * _FEW)
    return float(_WEIGHTS @ (1.0 - np.exp(-0.5 * (room[:, None] / wedge[None, :]) ** 2)) @ _FEW_WEIGHTS)


def _finish_held(setting: Setting, chain: Chain) -> float:
    limit, roughness = setting.order.limit("roughness_ra"), chain[-1].roughness
    if limit is None or limit.upper is None or roughness is None:
        return 1.0
    return _shallower(depth_of(roughness), limit.upper)


def _phi(z: Array) -> Array:
    """Normal distribution function to 1e-7, fast enough for all candidates; Abramowitz and Stegun 26.2.17, memory."""
    x = np.abs(z)
    t = 1.0 / (1.0 + 0.2316419 * x)
    tail = (
        0.3989422804014327 * np.exp(-0.5 * x * x) * t
        * (0.319381530 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))))
    )  # fmt: skip
    return np.where(z >= 0.0, 1.0 - tail, tail)
