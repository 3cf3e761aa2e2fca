"""The cautions of a step, from the process library; the site's own rules come first."""

from __future__ import annotations

from collections.abc import Collection

from lapwright.app import looks
from lapwright.app.wiring import current_settings
from lapwright.errors import LapwrightError, NotFound
from lapwright.model.plan import Stage
from lapwright.model.story import WaferAtWork

#: Steps at which an adhesive is met, be it known which or not.
_ADHESIVE_MET = ("bond", "debond", "clean")


def cautions_for(material: str, *, step: str, adhesive: str = "", slurries: Collection[str] = ()) -> tuple[str, ...]:
    """The cautions to show at a step (lap, measure, polish, clean, bond, debond), the site's sentence first.

    Those of the adhesive, of what dissolves it and of the slurries are among them. Where an adhesive is met and it is
    not said which, before it is chosen or once it is off the record, those of every one are shown. A material the
    library does not know gets the cautions that hold for every one, and says so.
    """
    from lapwright.library import load

    library = load()
    first = [current_settings().site_caution]
    try:
        name = library.material(material).material_id
    except LapwrightError:
        name = material
        first.append(f"The library knows nothing of {material!r}: read its safety data sheet.")
    glues = [one for one in library.adhesives if adhesive in ("", one.adhesive_id)] if step in _ADHESIVE_MET else []
    found = library.hazards_met(
        name,
        step=step,
        adhesives=[one.adhesive_id for one in glues],
        solvents={solvent for one in glues for solvent in one.solvents},
        slurries=slurries,
    )
    return (*first, *(hazard.caution for hazard in found))


def when_measuring(material: str = "") -> tuple[str, ...]:
    """The cautions of reading a piece; without a material those that hold for any."""
    return cautions_for(material, step="measure") if material else _of_any("measure")


def when_measuring_wafer(wafer_id: str) -> tuple[str, ...]:
    """The cautions of reading one wafer; of one that is not on record those that hold for any."""
    from lapwright.records import queries

    try:
        return when_measuring(queries.wafer(wafer_id).wafer.material if wafer_id else "")
    except NotFound:
        return when_measuring()


def at_plate() -> tuple[str, ...]:
    """The cautions of handling a lapping plate, whatever is lapped on it."""
    return _of_any("lap")


def in_run(material: str, kind: str, abrasive: str | None) -> tuple[str, ...]:
    """The cautions of a run that goes on, for whoever ends it and takes the wafer out."""
    return cautions_for(material, step=kind, slurries=(abrasive,) if abrasive else ())


def at_stage(wafer: WaferAtWork, stage: Stage) -> tuple[str, ...]:
    """The cautions of one stage of a wafer, those of its plan included; the site's sentence stands for the library's.

    Both say that the site's rules come first, and what is said twice is not read.
    """
    from lapwright.library import SAFETY_FIRST

    site, *others = cautions_for(
        wafer.wafer.wafer.material,
        step=stage.kind,
        adhesive="" if wafer.bond is None else wafer.bond.adhesive,
        slurries=_slurries(wafer, stage),
    )
    planned = (caution for caution in stage.cautions if caution != SAFETY_FIRST)
    return tuple(dict.fromkeys((site, *planned, *others)))


# ----------------------------------------------------------------------------------------------------------------------


def _of_any(step: str) -> tuple[str, ...]:
    from lapwright.library import load

    return (current_settings().site_caution, *(one.caution for one in load().hazards_met("", step=step)))


def _slurries(wafer: WaferAtWork, stage: Stage) -> tuple[str, ...]:
    """The slurry of a stage; at a cleaning that of the work before it, which is washed off, and of the work after."""
    if stage.abrasive:
        return (stage.abrasive,)
    recorded = next((one for one in wafer.stages if one.stage == stage and one.state in ("waiting", "running")), None)
    return () if recorded is None or stage.kind != "clean" else looks.around(recorded, wafer.stages)
