"""Recipes: what is set for a kind of stage, in versions; who approved one; what it produced."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from lapwright.model.readings import Signature


@dataclass(frozen=True, slots=True, kw_only=True)
class RunSettings:
    """What is set for a run on a material: plate, abrasive, load on the wafer [N], pressure [Pa], plate speed [rad/s].

    None is not said.
    """

    material: str
    plate: str | None
    abrasive: str | None
    load: float | None = None
    pressure: float | None = None
    plate_speed: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeRun:
    """A run that followed a version: the wafer, and what the gauge said was taken off [m] in how long [s]."""

    run_id: int
    wafer_id: str
    station_id: str
    started: datetime
    removal: float | None
    time: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RunsFollowed:
    """How many runs followed a version, and the latest of them, the earliest first."""

    count: int
    latest: tuple[RecipeRun, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeVersion:
    """One version: its settings, who wrote it, and who approved it."""

    number: int
    settings: RunSettings
    written: Signature
    approved: Signature | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """A recipe: the versions, oldest first. While it is locked runs with other settings are refused."""

    recipe_id: str
    locked: bool
    version: int
    versions: tuple[RecipeVersion, ...]

    @property
    def holding(self) -> RecipeVersion | None:
        """The latest approved version; None before the first."""
        return next((one for one in reversed(self.versions) if one.approved is not None), None)
