"""A plan is data: stages that can be printed, drawn, costed and checked before anything turns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from lapwright.errors import OutOfValidRange

StageKind = Literal["lap", "measure", "polish", "clean", "etch"]
PresetDatum = Literal["first_touch", "conforming", "reference_block"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One stage of a route. SI; a stage that removes nothing has no preset and no rate.

    `removal` is what the stage takes at the centre; `preset` is the gauge travel from the named zero at which the
    stop is asked; `damage_left` and `damage_left_high` are the expected and the 95 % depth of damage it leaves;
    `damage_chance` is the chance that damage of an earlier stage reaches deeper than its own. `abrasive_name` and
    `plate_name` are what a person calls the library's rows. Plans recorded before a field was added lack it.
    """

    kind: StageKind
    name: str
    abrasive: str | None = None
    plate: str | None = None
    removal: float = 0.0
    preset: float | None = None
    preset_datum: PresetDatum | None = None
    allowance: float = 0.0
    pressure: float | None = None
    speed: float | None = None
    load: float | None = None
    plate_speed: float | None = None
    rate: float | None = None
    rate_low: float | None = None
    rate_high: float | None = None
    time: float = 0.0
    thickness_after: float = 0.0
    damage_left: float = 0.0
    damage_left_high: float = 0.0
    cautions: tuple[str, ...] = ()
    why: str = ""
    abrasive_name: str = ""
    plate_name: str = ""
    damage_chance: float | None = None

    def __post_init__(self) -> None:
        if self.removal < 0.0:
            raise OutOfValidRange("removal", self.removal, "zero or more")


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitChance:
    """Chance, from 0 to 1, that one limit is kept; `limit` is a quantity of the order, ``damage`` or ``breakage``."""

    limit: str
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A route from the incoming wafer to the finished one. SI; `chance_in_tolerance` from 0 to 1.

    `time_low` to `time_high` is the 90 % interval of the time; `total_cost` is for one wafer in the lab's currency;
    `labels` say what a route is best at; `why` what sets it apart; `clear_time` is how long its last polish must run
    until damage remains with less than one chance in a hundred; `reckoned_for` is the target that time, cost and
    chances were reckoned for, None where it is that of the plan. Plans recorded before a field was added lack it.
    """

    name: str
    stages: tuple[Stage, ...]
    start_thickness: float
    target_thickness: float
    total_time: float
    chance_in_tolerance: float
    damage_left: float
    assumptions: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    chances: tuple[LimitChance, ...] = ()
    time_low: float | None = None
    time_high: float | None = None
    total_cost: float | None = None
    labels: tuple[str, ...] = ()
    why: tuple[str, ...] = ()
    clear_time: float | None = None
    reckoned_for: float | None = None
