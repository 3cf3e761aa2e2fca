"""The stages of one route: the parts each cut is worked in, with their presets, times, reasons and cautions.

Every lap is stopped in two steps: to 85-95 % of its stock, then rinse, measure directly and finish. A polish whose
rate is not known yet starts with a part that cannot overrun even at the fastest rate believed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from lapwright.library import SAFETY_FIRST, Library
from lapwright.model.order import Order
from lapwright.model.plan import PresetDatum, Stage
from lapwright.model.readings import Gauge
from lapwright.process.budget import Need, first_form
from lapwright.process.candidates import Chain, Cut
from lapwright.process.chance import NO_DAMAGE, Part
from lapwright.process.damage import Estimate
from lapwright.process.ledger import Depth, LedgerLine, Passage, clear_time, damage_ledger
from lapwright.process.preset import Heights, preset_travel
from lapwright.process.removal import BAND_QUANTILE
from lapwright.process.route_cost import USUAL_PRICES, Prices, cutting_cost, expected_loss, machine_hour
from lapwright.process.spread_learning import TAIL
from lapwright.process.words import micrometres as um
from lapwright.process.workplaces import Assumptions

_BATH = "Etch baths burn and give off gases: hood, gloves and face shield; never mix baths; neutralise before disposal."
_KNOWN_WELL = 0.85  # a first part of at least this share leaves one more
_NEAR_ALL = 0.90  # most of a polish that may be taken before its rate was seen, at the fastest rate believed


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What stays the same over all routes of one question.

    `start` is the damage of the face as it is now; `is_under_way` whether the wafer lies on its carrier with a face
    that is lapped already, so that zeros are taken on a conforming face.
    """

    order: Order
    library: Library
    gauge: Gauge
    assumptions: Assumptions
    prices: Prices = USUAL_PRICES
    start: Depth = NO_DAMAGE
    is_under_way: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One part of a cut in a plan."""

    cut: Cut
    part: Part
    name: str
    why: str
    is_first: bool
    is_last: bool


def cut_steps(setting: Setting, chain: Chain, taken: Sequence[float], needs: Sequence[Need]) -> Iterator[Step]:
    """The parts in which the cuts of a chain are worked, with a direct measurement after each.

    Parameters
    ----------
    setting : Setting
        Order, library, gauge and assumptions.
    chain : Chain
        Cuts from first to last.
    taken : sequence of float [m]
        Removal of each cut.
    needs : sequence of Need
        Least removal of each cut, for the reason given with it.

    Yields
    ------
    Step
        Their removals add up to those of the cuts.
    """
    laps = sum(cut.process == "lap" for cut in chain)
    for index, (cut, removal, need) in enumerate(zip(chain, taken, needs, strict=True)):
        later = math.fsum(taken[index + 1 :])
        shares = _shares(cut, removal, setting.assumptions)
        remaining = removal
        for number, share in enumerate(shares):
            is_last = number == len(shares) - 1
            amount = remaining if is_last else share * removal
            remaining -= amount
            yield Step(
                cut=cut,
                part=_part(cut, amount, remaining + later, setting.assumptions, number=number, is_last=is_last),
                name=f"{_cut_name(cut, index, laps)}, {_part_name(number, is_last=is_last)}",
                why=_reason(need, removal, index=index, number=number),
                is_first=index == 0 and number == 0 and not setting.is_under_way,
                is_last=is_last,
            )


def part_count(cut: Cut) -> int:
    """In how many parts a cut is worked: two, or three where the clock stops it and its rate is hardly known.

    Parameters
    ----------
    cut : Cut
        Lap, polish or etch.

    Returns
    -------
    int
    """
    return 2 if cut.process == "lap" or cut.rate_high * _KNOWN_WELL <= _NEAR_ALL * cut.rate else 3


def depth_of(estimate: Estimate) -> Depth:
    """A depth or roughness as a lognormal: its expected value as median, its high end as the 97.5 % one.

    Parameters
    ----------
    estimate : Estimate
        Expected value and bounds [m].

    Returns
    -------
    Depth

    Examples
    --------
    >>> from lapwright.library import load
    >>> from lapwright.process.damage import damage_left
    >>> library = load()
    >>> round(depth_of(damage_left(library, "Si", library.abrasive("al2o3-15"))).high * 1e6, 3)
    10.0
    """
    if not estimate.expected > 0.0:
        return NO_DAMAGE
    spread = math.log(max(estimate.high, estimate.expected) / estimate.expected) / BAND_QUANTILE
    return Depth(median=estimate.expected, log_deviation=spread)


def ledger_of(setting: Setting, steps: Sequence[Step]) -> tuple[LedgerLine, ...]:
    """The damage ledger of a route, one line for each part; a part that is not the last of its cut leaves the same.

    Parameters
    ----------
    setting : Setting
        The damage before.
    steps : sequence of Step
        Parts of the cuts, in the order worked.

    Returns
    -------
    tuple of LedgerLine
    """
    passages = [
        Passage(
            name=step.name,
            removal=step.part.removal,
            deviation=step.part.absolute if step.is_last else 0.0,
            leaves=depth_of(step.cut.damage),
        )
        for step in steps
    ]
    return damage_ledger(passages, start=setting.start if setting.start.median > 0.0 else None)


def route_stages(setting: Setting, steps: Sequence[Step]) -> Iterator[Stage]:
    """The stages of a route: measure, then for every part cut, clean and measure.

    Parameters
    ----------
    setting : Setting
        Order, library, gauge and assumptions.
    steps : sequence of Step
        Parts of the cuts, in the order worked.

    Yields
    ------
    Stage
    """
    thickness = setting.order.start_thickness
    before = LedgerLine(
        name="", removal=0.0, left=setting.start, median=setting.start.median, high=setting.start.high, chance_old=0.0
    )
    yield _measuring(setting, "Measure the stack on its carrier", thickness, before)
    for step, line in zip(steps, ledger_of(setting, steps), strict=True):
        thickness = setting.order.target_thickness + step.part.left_after
        yield _cutting(setting, step, thickness, line)
        yield _cleaning(setting, step, thickness, line)
        yield _measuring(setting, _measuring_name(setting, step, thickness), thickness, line)


def stages_time(setting: Setting, steps: Sequence[Step]) -> float:
    """How long the stages of a route take together, as `route_stages` lays them out.

    Parameters
    ----------
    setting : Setting
        Its assumptions.
    steps : sequence of Step
        Parts of the cuts.

    Returns
    -------
    float [s]
    """
    assumed = setting.assumptions
    between = [assumed.cleaning_time, assumed.measuring_time]
    cutting = [step.part.removal / step.cut.rate for step in steps]
    return math.fsum([assumed.measuring_time, *cutting, *between * len(steps)])


def stages_cost(setting: Setting, steps: Sequence[Step], chance: float) -> float:
    """What a route costs: machine and person of each part, what a wafer uses up, and the wafers it loses.

    Parameters
    ----------
    setting : Setting
        Its prices and assumptions.
    steps : sequence of Step
        Parts of the cuts.
    chance : float [1]
        Of keeping every limit.

    Returns
    -------
    float
    """
    prices = setting.prices
    total = prices.piece_price + cutting_cost(prices, hour=0.0, time=0.0, around=setting.assumptions.measuring_time)
    for step in steps:
        cut = step.cut
        hour = machine_hour(prices, process=cut.process, abrasive_kind=cut.abrasive.kind, plate=cut.workplace.plate)
        total += cutting_cost(prices, hour=hour, time=step.part.removal / cut.rate, around=step.part.around)
    return total + expected_loss(prices, chance)


def time_to_clear(setting: Setting, chain: Chain, taken: Sequence[float]) -> float | None:
    """How long the last polish or etch must run until damage remains with less than one chance in a hundred.

    Parameters
    ----------
    setting : Setting
        The damage before.
    chain : Chain
        Cuts from first to last.
    taken : sequence of float [m]
        What each cut takes.

    Returns
    -------
    float [s] or None
        None after a lap, after a stage that leaves damage of its own, and where there is none to clear.
    """
    last = chain[-1]
    if last.process == "lap" or last.damage.expected > 0.0:
        return None
    layers = [(setting.start, math.fsum(taken[:-1]))]
    layers += [(depth_of(cut.damage), math.fsum(taken[index + 1 : -1])) for index, cut in enumerate(chain[:-1])]
    layers = [(depth, removed) for depth, removed in layers if depth.median > 0.0]
    if not layers:
        return None
    return clear_time(layers, last.rate, rate_deviation=last.deviation).time


# ----------------------------------------------------------------------------------------------------------------------


def _measuring_name(setting: Setting, step: Step, thickness: float) -> str:
    if thickness <= setting.order.target_thickness:
        return "Measure the finished wafer on its carrier"
    return "Measure before the next abrasive" if step.is_last else "Measure directly, then finish"


def _shares(cut: Cut, removal: float, assumptions: Assumptions) -> tuple[float, ...]:
    """Shares of a cut's removal taken before each direct measurement; they add up to 1."""
    if cut.process == "lap":
        first = min(0.95, max(0.85, 1.0 - 2.0 * assumptions.watch_error / removal))
        return (first, 1.0 - first)
    first = _NEAR_ALL * cut.rate / cut.rate_high
    if part_count(cut) == 2:
        return (first, 1.0 - first)
    return (first, _NEAR_ALL - first, 1.0 - _NEAR_ALL)


def _part(cut: Cut, removal: float, left_after: float, assumptions: Assumptions, *, number: int, is_last: bool) -> Part:
    if cut.process == "lap":
        late = cut.rate * assumptions.stop_delay_spread
        usual = math.exp(-(TAIL**2))  # so that the tails of single stops leave the deviation as it is
        absolute = usual * (math.hypot(assumptions.lap_stop_error, late) if is_last else assumptions.watch_error)
        doubt = math.hypot(assumptions.lap_stop_doubt if is_last else assumptions.watch_doubt, TAIL)
        relative = 0.0
    else:
        absolute, doubt = assumptions.polish_stop_error, 0.0
        relative = cut.deviation if number == 0 else assumptions.day_spread
    return Part(
        removal=removal,
        left_after=left_after,
        absolute=absolute,
        relative=relative,
        doubt=doubt,
        depth=depth_of(cut.damage) if is_last else None,
        form=assumptions.form_after_coarse if cut.is_coarse else assumptions.form_after_fine,
        rate=cut.rate,
        rate_deviation=cut.deviation,
        around=assumptions.measuring_time + assumptions.cleaning_time,
    )


def _cut_name(cut: Cut, index: int, laps: int) -> str:
    if cut.process != "lap":
        return "Polish" if cut.process == "polish" else "Etch"
    if laps == 1:
        return "Lap"
    middle = ("Middle lap",) if laps == 3 else ("Second lap", "Third lap")
    return ("Coarse lap", *middle[: laps - 2], "Fine lap")[index]


def _part_name(number: int, *, is_last: bool) -> str:
    return "finish" if is_last else ("first part", "second part")[number]


def _reason(need: Need, removal: float, *, index: int, number: int) -> str:
    if number > 0:
        return "Finishes what the direct measurement says is left."
    parts = f"damage before {um(need.damage)}, form {um(need.form)}, uncertainty {um(need.uncertainty)}"
    if index == 0:
        return f"Takes what the later stages leave, {um(removal)}; it needs at least {um(need.total)}: {parts}."
    return f"Takes {um(removal)}: {parts}."


def _measuring(setting: Setting, name: str, thickness: float, line: LedgerLine) -> Stage:
    return Stage(
        kind="measure",
        name=name,
        time=setting.assumptions.measuring_time,
        thickness_after=thickness,
        damage_left=line.median,
        damage_left_high=line.high,
        cautions=_cautions(setting, "measure", ""),
        why=f"With {setting.gauge.name}; correct tilt and what is left to take from this map.",
    )


def _cleaning(setting: Setting, step: Step, thickness: float, line: LedgerLine) -> Stage:
    changing = step.is_last and thickness > setting.order.target_thickness
    return Stage(
        kind="clean",
        name="Rinse and dry; change abrasive and plate" if changing else "Rinse and dry",
        time=setting.assumptions.cleaning_time,
        thickness_after=thickness,
        damage_left=line.median,
        damage_left_high=line.high,
        cautions=_cautions(setting, "clean", step.cut.abrasive.kind),
        why="A film or grain under the gauge counts as thickness; a coarse grain carried on scratches.",
    )


def _cutting(setting: Setting, step: Step, thickness: float, line: LedgerLine) -> Stage:
    cut = step.cut
    travel, datum, allowance, note = _preset(setting, step)
    return Stage(
        kind=cut.process,
        name=step.name,
        abrasive=cut.abrasive.abrasive_id,
        plate=cut.workplace.plate or None,
        abrasive_name=cut.abrasive.name,
        plate_name=_plate_name(setting, cut),
        damage_chance=line.chance_old,
        removal=step.part.removal,
        preset=travel,
        preset_datum=datum,
        allowance=allowance,
        pressure=None if cut.process == "etch" else cut.pressure,
        speed=None if cut.process == "etch" else cut.speed,
        load=None if cut.process == "etch" else cut.load,
        plate_speed=None if cut.process == "etch" else cut.workplace.motion.plate_speed,
        rate=cut.rate,
        rate_low=cut.rate_low,
        rate_high=cut.rate_high,
        time=step.part.removal / cut.rate,
        thickness_after=thickness,
        damage_left=line.median,
        damage_left_high=line.high,
        cautions=_cautions(setting, cut.process, cut.abrasive.kind),
        why=f"{step.why} {note}",
    )


def _preset(setting: Setting, step: Step) -> tuple[float | None, PresetDatum | None, float, str]:
    """Travel, datum, allowance and a note; a polish, or a rest smaller than the run-down, is stopped by time."""
    cut, removal = step.cut, step.part.removal
    if cut.process == "polish":
        return None, None, 0.0, "Stopped by time: a pad is too soft for the jig's gauge."
    if cut.process == "etch":
        return None, None, 0.0, "Stopped by time: removal is the rate of the bath times the time."
    rate = cut.rate if step.is_last else cut.rate_high
    allowance = rate * cut.workplace.stop_delay
    if allowance >= removal:
        return None, None, 0.0, "Stopped by time: what is left is less than the run-down of the plate."
    if not step.is_first:
        preset = preset_travel("conforming", removal=removal, allowance=allowance)
        return preset.travel, preset.datum, allowance, "Zero anew on the lapped face."
    start = setting.order.start_thickness
    heights = Heights(contact=start + first_form(setting.order, setting.assumptions), target=start - removal)
    preset = preset_travel("first_touch", heights=heights, allowance=allowance)
    return (
        preset.travel,
        preset.datum,
        allowance,
        "The high edge touches first, so the travel is longer than the removal.",
    )


def _plate_name(setting: Setting, cut: Cut) -> str:
    return setting.library.plate(cut.workplace.plate).name if cut.workplace.plate else cut.workplace.name


def _cautions(setting: Setting, step: str, abrasive_kind: str) -> tuple[str, ...]:
    library = setting.library
    material = library.material(setting.order.material).material_id
    slurries = [
        row.slurry_id for row in library.slurries if row.abrasive == abrasive_kind and material in row.materials
    ]
    lines: dict[str, None] = {}
    for slurry in slurries or [""]:
        lines |= dict.fromkeys(h.caution for h in library.hazards_for(material, step=step, slurry=slurry))
    if step == "etch":
        lines[_BATH] = None
    return (*lines, SAFETY_FIRST) if lines else ()
