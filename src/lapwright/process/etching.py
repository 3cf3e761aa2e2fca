"""An etch as a stage: rate times time, and the form that it adds because no bath works evenly.

The bath is the lab's own: its rate depends on strength, temperature, stirring and age far more than on a table, so that
none is shipped. Left out: preferential attack along crystal directions and pits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lapwright.errors import OutOfValidRange
from lapwright.library import Abrasive, Origin
from lapwright.process.candidates import Cut
from lapwright.process.damage import Estimate
from lapwright.process.kinematics import Motion
from lapwright.process.removal import BAND_QUANTILE, CoefficientPrior
from lapwright.process.workplaces import Workplace

_OWN = Origin(source="entered for this question", trust="own", file="", row=0)
_NO_DAMAGE = Estimate(
    expected=0.0,
    low=0.0,
    high=0.0,
    method="An etch is taken as leaving no damage",
    origin=None,
    trust="common_practice",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Etch:
    """A bath: its rate [m/s], the log deviation of the next run's rate [1], and the form it adds as a share [1]."""

    name: str
    rate: float
    rate_deviation: float = 0.15
    unevenness: float = 0.05

    def __post_init__(self) -> None:
        if not self.rate > 0.0:
            raise OutOfValidRange("rate", self.rate, "more than zero [m/s]")
        if not 0.0 <= self.rate_deviation <= 2.0:
            raise OutOfValidRange("rate_deviation", self.rate_deviation, "from 0 to 2")
        if not 0.0 <= self.unevenness < 1.0:
            raise OutOfValidRange("unevenness", self.unevenness, "from 0 to less than 1")


def etched_ttv(ttv: float, *, removal: float, unevenness: float) -> float:
    """Total thickness variation after an etch, at worst: what it adds falls on what was there.

    Parameters
    ----------
    ttv : float [m]
        Before, zero or more.
    removal : float [m]
        What the etch takes, zero or more.
    unevenness : float [1]
        Form that it adds as a share of what it takes.

    Returns
    -------
    float [m]

    Raises
    ------
    OutOfValidRange
        A negative length or share.

    Examples
    --------
    >>> round(etched_ttv(1e-6, removal=10e-6, unevenness=0.05) * 1e6, 3)
    1.5
    """
    for name, value in (("ttv", ttv), ("removal", removal), ("unevenness", unevenness)):
        if not value >= 0.0:
            raise OutOfValidRange(name, value, "zero or more")
    return ttv + unevenness * removal


def etch_cut(etch: Etch) -> Cut:
    """A bath as a cut, so that routes can hold it.

    Parameters
    ----------
    etch : Etch
        The bath.

    Returns
    -------
    Cut
        Without pressure, load and speed; it leaves no damage and promises no roughness.

    Examples
    --------
    >>> etch_cut(Etch(name="weak bath", rate=1e-9)).process
    'etch'
    """
    spread = math.exp(BAND_QUANTILE * etch.rate_deviation)
    bath = Abrasive(
        abrasive_id="etch",
        name=etch.name,
        kind="etchant",
        process="polish",
        grain=0.0,
        hardness=0.0,
        note="",
        origin=_OWN,
    )
    still = Motion(offset=0.0, plate_speed=0.0, jig_speed=0.0)
    source = f"entered for this question, {etch.rate * 60e6:.3g} µm/min."
    return Cut(
        workplace=Workplace(name="etch bath", process="etch", plate="", motion=still),
        abrasive=bath,
        pressure=0.0,
        load=0.0,
        speed=0.0,
        prior=CoefficientPrior(
            median=0.0, log_deviation=etch.rate_deviation, method=source, row_id="", origin=_OWN, trust="own"
        ),
        rate=etch.rate,
        rate_low=etch.rate / spread,
        rate_high=etch.rate * spread,
        damage=_NO_DAMAGE,
        roughness=None,
        deviation=etch.rate_deviation,
        level_deviation=etch.rate_deviation,
        source=source,
        is_own=True,
        unevenness=etch.unevenness,
    )
