"""What a run's rate is made of: the effects by which runs on other days, plates and lots tell something about this one.

The library's Preston rate is the starting point. Above it stand effects that runs share, each with how far it may
stray before any run: the lab, the material, the abrasive, the combination; the exponents of pressure and speed; the
machine, the individual plate, the abrasive lot; the age of pad and of slurry. Left out: temperature, acidity, feed,
the slow first minutes of a polish on a lapped face.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from lapwright.errors import CannotAnswer, OutOfValidRange
from lapwright.library import Library, Origin, Process
from lapwright.process.removal import BAND_QUANTILE, CoefficientPrior, preston_rate, prior_coefficient

#: How the variance of a library band is shared out among what combinations have in common (own judgement).
BAND_SHARES = {"lab": 0.10, "material": 0.25, "abrasive": 0.20, "combination": 0.45}
#: Published exponents lie between 1/2 and 1, in the trade 0.5 to 1.2 (common practice): about 1, give or take this;
#: with what one combination differs from the others, one half lies two deviations off.
EXPONENT_DEVIATION = 0.20
EXPONENT_DEVIATION_OF_ONE = 0.13  # of one combination from the others (own judgement)
REFERENCE_SPEED = 0.5  # m/s; middle of what is usual
NO_ROW_BAND = 100.0  # band of a combination of which neither the library nor another material says anything
HOUR = 3600.0
#: Share of the rate lost in an hour, and how far that may stray: pad or dressed plate, charge of slurry (common
#: practice: lapping grain rounds in hours; reused silica loses 20-40 % over hours; pads differ by a factor of 3).
PAD_LOSS = {"lap": (0.0, 0.02), "polish": (0.01, 0.01)}
SLURRY_LOSS = {"lap": (0.03, 0.02), "polish": (0.05, 0.025)}
UNKNOWN_LOSS = (0.0, 0.05)

Key = tuple[str, ...]
Kind = Literal["fixed", "piece", "plate", "lot"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunConditions:
    """What a run is worked with. SI.

    `material`, `abrasive` and `plate` are library ids; `pressure` [Pa], mean sliding `speed` [m/s]. `station`,
    `plate_piece` (the individual plate or pad) and `abrasive_lot` name things of the lab; None is not known.
    `pad_age` [s] is the time worked since the pad was new or the plate dressed, `slurry_age` [s] that since the charge
    was put on; None leaves them out of the rate.
    """

    material: str
    abrasive: str
    plate: str
    pressure: float
    speed: float
    station: str | None = None
    plate_piece: str | None = None
    abrasive_lot: str | None = None
    pad_age: float | None = None
    slurry_age: float | None = None

    def __post_init__(self) -> None:
        for name in ("pressure", "speed"):
            value = getattr(self, name)
            if not (value > 0.0 and math.isfinite(value)):
                raise OutOfValidRange(name, value, "a finite number above zero")
        for name in ("pad_age", "slurry_age"):
            value = getattr(self, name)
            if value is not None and not (value >= 0.0 and math.isfinite(value)):
                raise OutOfValidRange(name, value, "zero or more [s]")

    @property
    def combination(self) -> tuple[str, str, str]:
        """Material, abrasive and plate: runs of one combination are runs of the same process."""
        return (self.material, self.abrasive, self.plate)


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """One effect on the logarithm of a rate [1]: its key, its loading, its mean and deviation before any run.

    `kind` says whose spread it has: its own (`fixed`), that of machines (`piece`), of plates, which wander (`plate`),
    or of lots (`lot`); `deviation` counts only where it is fixed.
    """

    key: Key
    loading: float
    mean: float = 0.0
    deviation: float = 1.0
    kind: Kind = "fixed"


@dataclass(frozen=True, slots=True, kw_only=True)
class StartingRate:
    """What is believed before any run: the process, the library's coefficient, the rate by it [m/s], whether known."""

    process: Process
    prior: CoefficientPrior
    rate: float
    is_known: bool


def starting_rate(library: Library, conditions: RunConditions) -> StartingRate:
    """The library's rate for a run, or a value so wide that only runs can say anything.

    Parameters
    ----------
    library : Library
        Rows of removal coefficients.
    conditions : RunConditions
        What the run is worked with.

    Returns
    -------
    StartingRate
        `is_known` is False where the library has no row and none to carry over.

    Raises
    ------
    NotFound
        A material, abrasive or plate the library does not hold.

    Examples
    --------
    >>> from lapwright.library import load
    >>> run = RunConditions(material="LiTaO3", abrasive="sic-jis1000", plate="cast-iron", pressure=10e3, speed=0.5)
    >>> round(starting_rate(load(), run).rate * 60e6, 2)
    5.13
    """
    abrasive = library.abrasive(conditions.abrasive)
    material = library.material(conditions.material).material_id
    library.plate(conditions.plate)
    try:
        prior, is_known = prior_coefficient(library, material, abrasive=abrasive, plate=conditions.plate), True
    except CannotAnswer:
        prior, is_known = _no_row(library, abrasive.process), False
    rate = preston_rate(prior.median, conditions.pressure, conditions.speed)
    return StartingRate(process=abrasive.process, prior=prior, rate=rate, is_known=is_known)


def effects_of(library: Library, conditions: RunConditions, from_library: StartingRate) -> tuple[Effect, ...]:
    r"""The effects that play a part in a run's rate.

    Parameters
    ----------
    library : Library
        Rows of removal coefficients, for the pressures they hold at.
    conditions : RunConditions
        What the run is worked with.
    from_library : StartingRate
        What the library says of it.

    Returns
    -------
    tuple of Effect

    Notes
    -----
    .. math:: \ln r = \ln(k_p\,p\,v) + \sum_i x_i \theta_i, \quad
        \sum_{\text{shares}} x_i^2 = (\ln \text{band} / 1.96)^2

    Pressure and speed count from the middle of the row's pressures and 0.5 m/s, where the row's band holds as it is.
    """
    loading = {name: math.sqrt(share) * from_library.prior.log_deviation for name, share in BAND_SHARES.items()}
    pressure = math.log(conditions.pressure / _middle_pressure(library, from_library))
    speed = math.log(conditions.speed / REFERENCE_SPEED)
    tool = (conditions.abrasive, conditions.plate)
    found = [
        Effect(key=("lab",), loading=loading["lab"]),
        Effect(key=("material", conditions.material), loading=loading["material"]),
        Effect(key=("abrasive", conditions.abrasive), loading=loading["abrasive"]),
        Effect(key=("combination", *conditions.combination), loading=loading["combination"]),
        Effect(key=("pressure",), loading=pressure, deviation=EXPONENT_DEVIATION),
        Effect(key=("pressure", *tool), loading=pressure, deviation=EXPONENT_DEVIATION_OF_ONE),
        Effect(key=("speed",), loading=speed, deviation=EXPONENT_DEVIATION),
        Effect(key=("speed", *tool), loading=speed, deviation=EXPONENT_DEVIATION_OF_ONE),
        Effect(key=plate_key(conditions), loading=1.0, kind="plate"),
    ]
    if conditions.station is not None:
        found.append(Effect(key=("station", conditions.station), loading=1.0, kind="piece"))
    if conditions.abrasive_lot is not None:
        found.append(Effect(key=("lot", conditions.abrasive, conditions.abrasive_lot), loading=1.0, kind="lot"))
    return (*found, *_ageing(conditions, from_library.process))


def plate_key(conditions: RunConditions) -> Key:
    """Key of the individual plate; where it has no name, of its kind on that station."""
    if conditions.plate_piece is not None:
        return ("plate", conditions.plate, conditions.plate_piece)
    return ("plate", conditions.plate, "", conditions.station or "")


# ----------------------------------------------------------------------------------------------------------------------


def _ageing(conditions: RunConditions, process: Process) -> list[Effect]:
    found = []
    aged = (
        ("pad_loss", conditions.plate, conditions.pad_age, PAD_LOSS.get(process, UNKNOWN_LOSS)),
        ("slurry_loss", conditions.abrasive, conditions.slurry_age, SLURRY_LOSS.get(process, UNKNOWN_LOSS)),
    )
    for name, thing, age, (mean, deviation) in aged:
        if age is not None:
            found.append(Effect(key=(name, thing), loading=-age / HOUR, mean=mean, deviation=deviation))
    return found


def _middle_pressure(library: Library, from_library: StartingRate) -> float:
    for row in library.removal_coefficients:
        if row.row_id == from_library.prior.row_id:
            return math.sqrt(row.pressure_low * row.pressure_high)
    return 10e3 if from_library.process == "lap" else 20e3


def _no_row(library: Library, process: Process) -> CoefficientPrior:
    """The geometric mean of all rows of a process, so wide that runs decide."""
    rows = [row for row in library.removal_coefficients if row.process == process]
    if not rows:
        raise CannotAnswer(f"The library has no removal rate for any {process}. Add a row of your own.")
    middle = math.exp(math.fsum(math.log(row.coefficient) for row in rows) / len(rows))
    return CoefficientPrior(
        median=middle,
        log_deviation=math.log(NO_ROW_BAND) / BAND_QUANTILE,
        method=f"No library row of this combination nor one to carry over; middle of all, x/÷ {NO_ROW_BAND:g}",
        row_id="",
        origin=Origin(source="geometric mean of all rows of the process", trust="derived", file="", row=0),
        trust="derived",
    )
