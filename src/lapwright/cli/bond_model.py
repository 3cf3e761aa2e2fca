"""`lapwright bond --model`: the film that a press leaves, and the time to a wanted one."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from lapwright.cli import options
from lapwright.cli.answer import give
from lapwright.errors import CommandLineError


class Press(NamedTuple):
    """The numbers of `bond --model`, as given."""

    load_n: float | None
    radius_mm: float | None
    start_um: float | None
    time_s: float | None
    viscosity_pa_s: float | None
    wanted_um: float | None
    temperature_c: float | None


def answer_model(press: Press, adhesive: str | None, *, as_json: bool) -> None:
    """Compute the film from the options of `bond --model` and print it."""
    from lapwright.app.bond_models import ZERO_CELSIUS, FilmQuestion, film_of
    from lapwright.formats.bond_results import film_dict
    from lapwright.formats.json_line import warning_dict

    needed = ("load_n", "radius_mm", "start_um", "time_s")
    missing = [f"--{name.replace('_', '-')}" for name in needed if getattr(press, name) is None]
    if missing:
        raise CommandLineError(f"The model needs {', '.join(missing)} too. Give all of them.")
    found = film_of(
        FilmQuestion(
            load=press.load_n or 0.0,
            radius=options.metres(press.radius_mm or 0.0, "mm"),
            start=options.metres(press.start_um or 0.0, "µm"),
            time=press.time_s or 0.0,
            viscosity=press.viscosity_pa_s,
            adhesive=adhesive,
            temperature=None if press.temperature_c is None else press.temperature_c + ZERO_CELSIUS,
            wanted=options.metres_or_none(press.wanted_um, "µm"),
        )
    )
    result = film_dict(
        film=found.film,
        low=found.low,
        high=found.high,
        pressure=found.pressure,
        viscosity=found.viscosity,
        source=found.viscosity_from,
        wanted=found.wanted,
        time_to_wanted=found.time_to_wanted,
    )
    give(result, as_json=as_json, show=_show, warnings=[warning_dict(*one) for one in found.warnings])


# ----------------------------------------------------------------------------------------------------------------------


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line, print_table, shown

    rows = [
        ("film", shown(result["bond_um"]), "µm"),
        ("may be from", shown(result["bond_low_um"]), "µm"),
        ("to", shown(result["bond_high_um"]), "µm"),
        ("pressure", shown(result["pressure_kpa"], 1), "kPa"),
        ("viscosity", shown(result["viscosity_pa_s"], 3), "Pa s"),
    ]
    if result["time_to_wanted_s"] is not None:
        rows.append((f"time to {shown(result['wanted_um'])} µm", shown(result["time_to_wanted_s"] / 60.0, 1), "min"))
    print_table(("what", "value", "unit"), rows, numbers=(1,))
    print_line(f"Viscosity: {result['viscosity_from']}.")
