"""Use cases: recipes with versions and locks, and what is set otherwise than for the last wafer.

A recipe is for a material, a plate and an abrasive. Its latest approved version holds. A run with the same settings is
noted as made by it; while the recipe is locked a run with other settings is refused.
"""

from __future__ import annotations

import math
import re
from datetime import datetime

from lapwright.errors import BadInput, Conflict, Fault
from lapwright.model.job import RecordedRun
from lapwright.model.readings import Signature
from lapwright.model.recipe import Recipe, RecipeVersion, RunSettings, RunsFollowed
from lapwright.units import STANDARD_GRAVITY

_NAME = re.compile(r"[\w][\w .+-]{0,59}")
#: What is compared: field, word, factor to the unit shown, unit.
_COMPARED = (
    ("plate", "plate", None, ""),
    ("abrasive", "abrasive", None, ""),
    ("load", "load", 1.0 / STANDARD_GRAVITY, "kg"),
    ("pressure", "pressure", 1e-3, "kPa"),
    ("plate_speed", "plate speed", 30.0 / math.pi, "rpm"),
)
LATEST_RUNS = 20  # of those that followed a version
SAME = 1e-3  # relative difference below which a setting is the same; scales and dials show no more


def write_version(recipe_id: str, settings: RunSettings, *, by: str, reason: str, at: datetime) -> int:
    """A new version of a recipe; its number. Raises `BadInput` with all faults, `Conflict` while it is locked."""
    from lapwright.records import writer

    faults = []
    if not _NAME.fullmatch(recipe_id):
        sentence = f"The name {recipe_id!r} does not do; use letters, digits, blanks and . + - _, at most 60."
        faults.append(Fault(sentence=sentence, field="recipe"))
    if settings.material not in materials():
        faults.append(
            Fault(sentence=f"Found material {settings.material!r}, expected one of the library.", field="material")
        )
    for name, known in zip(("plate", "abrasive"), tools(recipe_id), strict=True):
        value = getattr(settings, name)
        if value is not None and value not in known:
            sentence = (
                f"Found {name} {value!r}, which is on no station and not in the library, so that no run could follow"
                f" the recipe. Choose one of {', '.join(known)}."
            )
            faults.append(Fault(sentence=sentence, field=name))
    for name in ("load", "pressure", "plate_speed"):
        value = getattr(settings, name)
        if value is not None and not 0.0 < value < math.inf:
            faults.append(Fault(sentence=f"The {name.replace('_', ' ')} must be more than zero.", field=name))
    if faults:
        raise BadInput(faults, subject="The recipe")
    return writer.add_recipe_version(recipe_id, settings, Signature(by=by, at=at, reason=reason))


def approve(recipe_id: str, number: int, *, by: str, reason: str, at: datetime) -> None:
    """Approve a version; it holds from now on. Raises `NotFound`, `Conflict` when it was approved before."""
    from lapwright.records import writer

    writer.approve_recipe(recipe_id, number, Signature(by=by, at=at, reason=reason))


def set_lock(recipe_id: str, *, locked: bool, by: str, reason: str, at: datetime) -> None:
    """Lock a recipe whose version holds, or open it again. Raises `Conflict` when none is approved."""
    from lapwright.records import recipe_queries, writer

    if locked and recipe_queries.recipe(recipe_id).holding is None:
        raise Conflict(f"No version of {recipe_id!r} is approved, so nothing would hold. Approve one first.")
    writer.lock_recipe(recipe_id, Signature(by=by, at=at, reason=reason), locked=locked)


def materials() -> tuple[str, ...]:
    """Names of the materials that a recipe may be for."""
    from lapwright.library import load

    return tuple(sorted(one.material_id for one in load().materials))


def tools(recipe_id: str | None = None) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Plates and abrasives that a recipe may name: on a station, in the library, or named by its versions so far."""
    from lapwright.library import load
    from lapwright.records import queries

    library = load()
    stations = [one.station for one in queries.stations()]
    known = [one for one in list_recipes() if one.recipe_id == recipe_id]
    before = [version.settings for one in known for version in one.versions]
    plates = [one.plate for one in stations] + [one.plate for one in before] + [one.plate_id for one in library.plates]
    abrasives = [one.abrasive for one in stations] + [one.abrasive for one in before]
    abrasives += [one.abrasive_id for one in library.abrasives]
    return tuple(dict.fromkeys(filter(None, plates))), tuple(dict.fromkeys(filter(None, abrasives)))


def list_recipes() -> tuple[Recipe, ...]:
    """All recipes by name."""
    from lapwright.records import recipe_queries

    return recipe_queries.recipes()


def show_recipe(recipe_id: str) -> Recipe:
    """One recipe. Raises `NotFound`."""
    from lapwright.records import recipe_queries

    return recipe_queries.recipe(recipe_id)


def runs_followed(recipe_id: str) -> dict[int, RunsFollowed]:
    """By version of a recipe, how many runs followed it and the latest of them. Raises `NotFound`."""
    from lapwright.records import recipe_queries

    return recipe_queries.runs_followed(recipe_id, latest=LATEST_RUNS)


def differences(before: RunSettings, after: RunSettings) -> tuple[str, ...]:
    """What is set otherwise, in the units of the dials.

    >>> old = RunSettings(material="LiTaO3", plate="glass", abrasive=None, load=2.0 * 9.80665)
    >>> new = RunSettings(material="LiTaO3", plate="glass", abrasive=None, load=2.4 * 9.80665)
    >>> differences(old, new)
    ('load 2.0 → 2.4 kg',)
    """
    told = []
    for name, word, factor, unit in _COMPARED:
        old, new = getattr(before, name), getattr(after, name)
        if factor is None:
            if old != new:
                told.append(f"{word} {old or 'none'} → {new or 'none'}")
        elif not _same(old, new):
            told.append(f"{word} {_shown(old, factor)} → {_shown(new, factor)} {unit}")
    return tuple(told)


def changed_since_last(station_id: str, settings: RunSettings, *, by: str | None = None) -> str:
    """What is set otherwise than for the last wafer of a person on a station, or of anybody; "" when nothing is."""
    from lapwright.records import recipe_queries

    last = (recipe_queries.last_run(station_id, by=by) if by else None) or recipe_queries.last_run(station_id)
    if last is None:
        return ""
    told = differences(_settings_of(last), settings)
    if not told:
        return ""
    whose = (
        "your last wafer"
        if last.started_by.by == by
        else f"the last wafer here ({last.wafer_id}, {last.started_by.by})"
    )
    return f"Changed since {whose}: {', '.join(told)}."


def need_kept(settings: RunSettings) -> None:
    """Raises `Conflict` when a locked recipe for this material, plate and abrasive says otherwise."""
    for recipe, version in _holding(settings):
        told = differences(version.settings, settings)
        if recipe.locked and told:
            raise Conflict(
                f"The recipe {recipe.recipe_id!r} is locked at version {version.number}; this run differs:"
                f" {', '.join(told)}. Set what it says, or have it unlocked."
            )


def held_to(settings: RunSettings) -> tuple[str, str]:
    """A sentence on the recipe that a run with these settings follows, and one on that which says otherwise; or ""."""
    followed = otherwise = ""
    for recipe, version in _holding(settings):
        told = differences(version.settings, settings)
        if told:
            said = f"The recipe {recipe.recipe_id!r}, version {version.number}, says otherwise: {', '.join(told)}."
            otherwise = otherwise or said
        else:
            followed = followed or f"As the recipe {recipe.recipe_id!r}, version {version.number}, says."
    return followed, "" if followed else otherwise


def last_settings(station_id: str) -> RunSettings | None:
    """What was set for the last run on a station; None where nothing ran."""
    from lapwright.records import recipe_queries

    last = recipe_queries.last_run(station_id)
    return None if last is None else _settings_of(last)


def note_use(run: RecordedRun, settings: RunSettings, signature: Signature) -> None:
    """Note a run as made by the version that holds for it, when it is set as that says."""
    from lapwright.records import writer

    for recipe, version in _holding(settings):
        if not differences(version.settings, settings):
            writer.note_recipe_use(run.run_id, recipe.recipe_id, version.number, signature)
            return


# ----------------------------------------------------------------------------------------------------------------------


def _holding(settings: RunSettings) -> list[tuple[Recipe, RecipeVersion]]:
    """The recipes for this material, plate and abrasive with the version that holds."""
    key = (settings.material, settings.plate, settings.abrasive)
    found = [(one, one.holding) for one in list_recipes()]
    return [
        (recipe, version)
        for recipe, version in found
        if version is not None and (version.settings.material, version.settings.plate, version.settings.abrasive) == key
    ]


def _settings_of(run: RecordedRun) -> RunSettings:
    from lapwright.records import queries

    return RunSettings(
        material=queries.order(queries.wafer(run.wafer_id).order_id).order.material,
        plate=run.plate,
        abrasive=run.abrasive,
        load=run.load,
        pressure=run.pressure,
        plate_speed=run.plate_speed,
    )


def _same(old: float | None, new: float | None) -> bool:
    if old is None or new is None:
        return True  # what one of them does not say is no change
    return math.isclose(old, new, rel_tol=SAME)


def _shown(value: float | None, factor: float) -> str:
    return "none" if value is None else f"{value * factor:.3g}" if value * factor >= 10 else f"{value * factor:.1f}"
