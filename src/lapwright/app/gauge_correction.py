"""The correction curve of a gauge, applied openly: readings stay, the result moves and says so."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from lapwright import units
from lapwright.errors import OutOfValidRange
from lapwright.model.job import RecordedSet
from lapwright.model.readings import Calibration, ThicknessSet

if TYPE_CHECKING:
    from lapwright.metrology.uncertainty import Contribution


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectedSet:
    """A set with a correction curve applied, what that adds to the uncertainty, and the sentence that says so."""

    readings: ThicknessSet
    contributions: tuple[Contribution, ...]
    notices: tuple[tuple[str, str], ...]


def corrected_set(recorded: RecordedSet, taken: ThicknessSet) -> CorrectedSet:
    """A set with the correction curve of the calibration that held then; as it is when there is none.

    The recorded readings keep text and value. Readings beyond the curve leave the set uncorrected, and it says so.
    """
    from lapwright.metrology.correction_curve import curve_corrections
    from lapwright.metrology.uncertainty import Contribution

    calibration = _calibration_at(recorded, recorded.opened.at.date())
    if calibration is None or not calibration.curve:
        return CorrectedSet(readings=taken, contributions=(), notices=())
    certificate = calibration.certificate
    try:
        found = curve_corrections(taken.thickness, curve=calibration.curve)
    except OutOfValidRange as error:
        sentence = f"Nothing was corrected by certificate {certificate}: {error.sentence}"
        return CorrectedSet(readings=taken, contributions=(), notices=(("thickness.not_corrected", sentence),))
    if not np.isfinite(found.correction).any():
        return CorrectedSet(readings=taken, contributions=(), notices=())
    mean, reach = float(np.nanmean(found.correction)), float(np.nanmean(found.expanded_uncertainty))
    sentence = (
        f"Corrected by certificate {certificate}: {_micrometres(mean, plus=True)} on average,"
        f" ± {_micrometres(reach)} (k = 2). The readings stand as typed."
    )
    line = Contribution(
        name=f"correction curve, certificate {certificate}", value=mean, standard_uncertainty=reach / 2.0, quoted=reach
    )
    return CorrectedSet(
        readings=replace(taken, thickness=taken.thickness + found.correction),
        contributions=(line,),
        notices=(("thickness.corrected_by_curve", sentence),),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _calibration_at(recorded: RecordedSet, day: date) -> Calibration | None:
    """The last calibration of a set's gauge done by a day."""
    done = [one for one in recorded.surroundings.calibrations if one.done <= day]
    return done[-1] if done else None


def _micrometres(value: float, *, plus: bool = False) -> str:
    sign = "+" if plus and value >= 0.0 else ""
    return sign + units.printed(value, "µm", "length", digits=2)
