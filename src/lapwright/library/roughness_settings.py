"""The settings table of profile roughness: which cutoff, short cutoff, tip and spacing belong to which roughness.

Limits are of the kind "above … up to and including", so a roughness that sits on a limit belongs to the finer class.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Literal

Rule = Literal["iso21920", "iso4288"]
SelectedBy = Literal["ra", "rz", "rsm"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingClass:
    """One row: the class, the range of roughness it is for, cutoffs, largest tip radius and largest spacing [m].

    `up_to` is infinite for the coarsest class.
    """

    name: str
    above: float
    up_to: float
    cutoff: float
    short_cutoff: float
    tip_radius: float
    spacing: float


@cache
def setting_classes(rule: Rule, selected_by: SelectedBy) -> tuple[SettingClass, ...]:
    """The classes of a rule for a parameter, finest first; empty where the rule does not use that parameter.

    >>> [row.cutoff for row in setting_classes("iso21920", "ra")]
    [8e-05, 0.00025, 0.0008, 0.0025, 0.008]
    """
    text = (resources.files("lapwright.library") / "data" / "roughness_settings.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    chosen = [_setting_class(row) for row in rows if (row["rule"], row["selected_by"]) == (rule, selected_by)]
    return tuple(sorted(chosen, key=lambda row: row.cutoff))


# ----------------------------------------------------------------------------------------------------------------------


def _setting_class(row: dict[str, str]) -> SettingClass:
    return SettingClass(
        name=row["setting_class"],
        above=float(row["above_um"]) / 1e6,
        up_to=float(row["up_to_um"]) / 1e6 if row["up_to_um"] else math.inf,
        cutoff=float(row["cutoff_mm"]) / 1e3,
        short_cutoff=float(row["short_cutoff_um"]) / 1e6,
        tip_radius=float(row["tip_radius_um"]) / 1e6,
        spacing=float(row["spacing_um"]) / 1e6,
    )
