"""Sliding of wafer and plate as a dictionary with units in its names."""

from __future__ import annotations

from typing import Any

import numpy as np

from lapwright.formats.edge_values import edge_value, mm, um
from lapwright.process.plate_wear import WearProfile
from lapwright.process.sliding import Sliding

_SHOWN = 12  # circles of the plate in the answer; the profile itself is finer


def sliding_dict(sliding: Sliding, *, duration: float | None = None) -> dict[str, Any]:
    """Mean speed over the face and over the radius, how uneven it is, and whether paths repeat."""
    result: dict[str, Any] = {
        "mean_speed_m_per_s": sliding.mean_speed,
        "radial": [
            {"radius_mm": mm(float(radius)), "mean_speed_m_per_s": float(speed)}
            for radius, speed in zip(sliding.radius, sliding.speeds, strict=True)
        ],
        "nonuniformity": sliding.nonuniformity,
        "speed_ratio": sliding.speed_ratio,
        "nearest_ratio": None if sliding.nearest_ratio is None else str(sliding.nearest_ratio),
        "repeats_after_plate_turns": None if sliding.repeat is None else sliding.repeat.plate_turns,
        "repeats_after_jig_turns": None if sliding.repeat is None else sliding.repeat.jig_turns,
        "repeat_misses_by_um": None if sliding.repeat is None else um(sliding.repeat.miss),
        "path_unevenness": sliding.unevenness,
        "sentences": list(sliding.sentences),
    }
    if duration is not None:
        result["sliding_distance_m"] = edge_value(sliding.mean_speed * duration, "_m", "length")
    return result


def wear_dict(profile: WearProfile, neutral: float | None) -> dict[str, Any]:
    """Where the plate is covered and worn, whether it grows domed, and the place at which it does not."""
    picked = np.linspace(0, len(profile.radius) - 1, _SHOWN).round().astype(int)
    return {
        "plate_radial": [
            {
                "radius_mm": mm(float(profile.radius[i])),
                "covered_share": float(profile.covered_share[i]),
                "wear_relative": float(profile.wear[i]),
            }
            for i in picked
        ],
        "plate_grows_domed_per_mean_wear": profile.dome_trend,
        "neutral_offset_mm": mm(neutral),
    }
