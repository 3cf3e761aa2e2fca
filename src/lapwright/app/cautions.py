"""The cautions of a step, from the process library; the site's own rules come first."""

from __future__ import annotations

from lapwright.app.wiring import current_settings
from lapwright.errors import LapwrightError
from lapwright.model.plan import Stage
from lapwright.model.story import WaferAtWork


def cautions_for(material: str, *, step: str, adhesive: str = "", slurry: str = "") -> tuple[str, ...]:
    """The cautions to show at a step (lap, measure, polish, clean, bond, debond), the site's sentence first.

    A material the library does not know gets the cautions that hold for every one, and says so.
    """
    from lapwright.library import load

    library = load()
    first = [current_settings().site_caution]
    try:
        name = library.material(material).material_id
    except LapwrightError:
        name = material
        first.append(f"The library knows nothing of {material!r}: read its safety data sheet.")
    found = library.hazards_for(name, step=step, adhesive=adhesive, slurry=slurry)
    return (*first, *(hazard.caution for hazard in found))


def at_stage(wafer: WaferAtWork, stage: Stage) -> tuple[str, ...]:
    """The cautions of one stage of a wafer, those of its plan included; the site's sentence stands for the library's.

    Both say that the site's rules come first, and what is said twice is not read.
    """
    from lapwright.library import SAFETY_FIRST

    site, *others = cautions_for(
        wafer.wafer.wafer.material,
        step=stage.kind,
        adhesive="" if wafer.bond is None else wafer.bond.adhesive,
        slurry=stage.abrasive or "",
    )
    planned = (caution for caution in stage.cautions if caution != SAFETY_FIRST)
    return tuple(dict.fromkeys((site, *planned, *others)))
