"""Reading recipes, and the run before."""

from __future__ import annotations

from typing import Any

from django.db.models import Prefetch, QuerySet

from lapwright.model.job import RecordedRun
from lapwright.model.name_order import name_key
from lapwright.model.recipe import Recipe, RecipeRun, RecipeVersion, RunSettings, RunsFollowed
from lapwright.records import models, queries, rows
from lapwright.records.faults import translated
from lapwright.records.queries import find

_COLUMNS = {"load": "load_n", "pressure": "pressure_pa", "plate_speed": "plate_speed_rad_per_s"}


def recipes() -> tuple[Recipe, ...]:
    """All recipes by name."""
    with translated():
        return tuple(_recipe(row) for row in sorted(_recipes(), key=lambda row: name_key(row.recipe_id)))


def recipe(recipe_id: str) -> Recipe:
    """One recipe. Raises `NotFound`."""
    with translated():
        return _recipe(find(_recipes(), "recipe_id", recipe_id))


def runs_followed(recipe_id: str, *, latest: int) -> dict[int, RunsFollowed]:
    """By version of a recipe, how many runs followed it, and so many of the latest. Raises `NotFound`."""
    with translated():
        recipe = find(models.Recipe.objects.all(), "recipe_id", recipe_id)
        found = {}
        for version in models.RecipeVersion.objects.filter(recipe=recipe):
            uses = models.RecipeUse.objects.filter(recipe_version=version)
            rows_shown = uses.select_related("run__wafer", "run__station").order_by("-pk")[:latest]
            shown = tuple(_run(use.run) for use in rows_shown)[::-1]
            found[version.number] = RunsFollowed(count=uses.count(), latest=shown)
        return found


def last_run(station_id: str, *, by: str | None = None) -> RecordedRun | None:
    """The last run begun on a station, of a person or of anybody."""
    with translated():
        found = queries.run_rows().filter(station__station_id=station_id)
        row = (found if by is None else found.filter(by=by)).order_by("-pk").first()
        return None if row is None else rows.run(row)


def plain(settings: RunSettings) -> dict[str, Any]:
    """Settings as the column holds them."""
    names = ("material", "plate", "abrasive")
    return {name: getattr(settings, name) for name in names} | {
        column: getattr(settings, name) for name, column in _COLUMNS.items()
    }


# ----------------------------------------------------------------------------------------------------------------------


def _recipes() -> QuerySet[Any]:
    versions = models.RecipeVersion.objects.select_related("approval").order_by("number")
    return models.Recipe.objects.prefetch_related(Prefetch("versions", queryset=versions))


def _recipe(row: models.Recipe) -> Recipe:
    return Recipe(
        recipe_id=row.recipe_id,
        locked=row.locked,
        version=row.version,
        versions=tuple(_version(one) for one in row.versions.all()),
    )


def _version(row: Any) -> RecipeVersion:
    held = row.settings
    approval = getattr(row, "approval", None)
    return RecipeVersion(
        number=row.number,
        settings=RunSettings(
            material=held["material"], plate=held["plate"], abrasive=held["abrasive"],
            **{name: held[column] for name, column in _COLUMNS.items()},
        ),
        written=rows.signature(row),
        approved=None if approval is None else rows.signature(approval),
    )  # fmt: skip


def _run(row: Any) -> RecipeRun:
    return RecipeRun(
        run_id=row.pk,
        wafer_id=row.wafer.wafer_id,
        station_id=row.station.station_id,
        started=row.at,
        removal=row.gauge_removal_m,
        time=None if row.ended_at is None else (row.ended_at - row.at).total_seconds(),
    )
