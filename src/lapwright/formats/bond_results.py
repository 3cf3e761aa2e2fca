"""Result dictionaries of the bonding model, of a heating trace, and of the ways to take a wafer off."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from lapwright.formats.edge_values import um

if TYPE_CHECKING:
    from lapwright.process.bonding_programme import BondProgramme
    from lapwright.process.bonding_stack import PairVerdict, StackBow
    from lapwright.process.bonding_trace import HeatTrace, TraceVerdict
    from lapwright.process.ledger import ClearTime, LedgerLine
    from lapwright.process.strength import BreakageChance
    from lapwright.process.strength_debond import DebondChoice

_KELVIN = 273.15


def film_dict(
    *, film: float, low: float, high: float, pressure: float, viscosity: float, source: str,
    wanted: float | None, time_to_wanted: float | None,
) -> dict[str, Any]:  # fmt: skip
    """The film a press leaves."""
    return {
        "bond_um": um(film),
        "bond_low_um": um(low),
        "bond_high_um": um(high),
        "pressure_kpa": _short(pressure / 1e3),
        "viscosity_pa_s": _short(viscosity),
        "viscosity_from": source,
        "wanted_um": None if wanted is None else um(wanted),
        "time_to_wanted_s": None if time_to_wanted is None else _short(time_to_wanted),
    }


def stack_dict(now: StackBow, target: StackBow | None, pair: PairVerdict) -> dict[str, Any]:
    """Bow and stress of a cooled stack."""
    return {
        "expansion_mismatch_x_per_mk": _short(pair.mismatch[0] * 1e6),
        "expansion_mismatch_y_per_mk": _short(pair.mismatch[1] * 1e6),
        "now": _bow_dict(now),
        "target": None if target is None else _bow_dict(target),
    }


def programme_dict(programme: BondProgramme) -> dict[str, Any]:
    """A bonding programme."""
    return {
        "temperature_c": _short(programme.temperature - _KELVIN),
        "load_n": _short(programme.load),
        "pressure_kpa": _short(programme.pressure / 1e3),
        "dwell_s": _short(programme.dwell),
        "heating_rate_k_per_min": _short(programme.heating_rate * 60.0),
        "cooling_rate_k_per_min": _short(programme.cooling_rate * 60.0),
        "release_temperature_c": _short(programme.release_temperature - _KELVIN),
        "total_time_s": _short(programme.total_time),
        "viscosity_pa_s": _short(programme.viscosity),
        "bond_um": um(programme.film),
        "bond_low_um": um(programme.film_low),
        "bond_high_um": um(programme.film_high),
        "steps": list(programme.steps),
    }


def trace_dict(trace: HeatTrace, verdict: TraceVerdict) -> dict[str, Any]:
    """What a heating trace says."""
    return {
        "n": len(trace.times),
        "duration_s": _short(trace.times[-1] - trace.times[0]),
        "highest_c": _short(verdict.highest - _KELVIN),
        "offset_k": None if verdict.offset is None else _short(verdict.offset),
        "time_above_melt_s": None if verdict.time_above_melt is None else _short(verdict.time_above_melt),
        "fastest_heating_k_per_min": _short(verdict.fastest_heating * 60.0),
        "fastest_cooling_k_per_min": _short(verdict.fastest_cooling * 60.0),
        "rate_limit_k_per_min": _short(verdict.rate_limit * 60.0),
        "too_fast": [
            {"from_s": _short(one.start), "to_s": _short(one.end), "rate_k_per_min": _short(one.rate * 60.0)}
            for one in verdict.too_fast
        ],
    }


def debond_dict(choices: Iterable[DebondChoice]) -> dict[str, Any]:
    """The ways to take a wafer off."""
    return {
        "ways": [
            {
                "way": one.way,
                "name": one.name,
                "chance_of_breakage": _short(one.chance.expected),
                "chance_low": _short(one.chance.low),
                "chance_high": _short(one.chance.high),
                "chance_free": _short(one.free.expected),
                "chance_supported": _short(one.supported.expected),
                "needs_support": one.needs_support,
                "time_low_min": _short(one.time_low / 60.0),
                "time_high_min": _short(one.time_high / 60.0),
                "worst": worst_dict(one.chance),
                "sentence": one.sentence,
            }
            for one in choices
        ]
    }


def damage_dict(
    steps: Iterable[tuple[LedgerLine, bool]], clear: ClearTime | None, ran: float | None, shortfall: float | None
) -> dict[str, Any]:
    """The damage ledger of a wafer; each line with whether its stage is done."""
    return {
        "stages": [
            {
                "name": line.name,
                "done": is_done,
                "removal_um": um(line.removal),
                "leaves_um": um(line.left.median),
                "damage_um": um(line.median),
                "damage_high_um": um(line.high),
                "chance_older": _short(line.chance_old),
            }
            for line, is_done in steps
        ],
        "polish_s": None if clear is None else _short(clear.time),
        "polish_low_s": None if clear is None else _short(clear.low),
        "polish_high_s": None if clear is None else _short(clear.high),
        "ran_s": ran,
        "shortfall_s": None if shortfall is None else _short(shortfall),
    }


def worst_dict(chance: BreakageChance) -> dict[str, Any]:
    """What stresses a wafer most."""
    worst = chance.worst
    return {
        "name": worst.name,
        "stress_mpa": _short(worst.stress / 1e6),
        "strength": (worst.strength or chance.strength).method,
        "trust": (worst.strength or chance.strength).trust,
    }


# ----------------------------------------------------------------------------------------------------------------------


def _bow_dict(bow: StackBow) -> dict[str, Any]:
    return {
        "wafer_thickness_um": um(bow.wafer_thickness),
        "bow_x_um": um(bow.bows[0]),
        "bow_y_um": um(bow.bows[1]),
        "mean_stress_x_mpa": _short(bow.mean_stress[0] / 1e6),
        "mean_stress_y_mpa": _short(bow.mean_stress[1] / 1e6),
        "largest_tension_mpa": _short(bow.largest_tension / 1e6),
    }


def _short(value: float) -> float | None:
    return float(f"{value:.8g}") if math.isfinite(value) else None
