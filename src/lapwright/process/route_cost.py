"""What a route costs: people's time, machine time, slurry and pads, and the wafers that will not pass.

Prices are the lab's own. The ones given here are starting entries in no particular currency (common practice; hours as
published fee pages of university laboratories charge them) and are said to be such wherever they count.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from lapwright.errors import OutOfValidRange

_HOUR = 3600.0

#: Price of an hour of slurry for one plate or pad, by kind of abrasive: feed times price (common practice, no source).
_SLURRY_AN_HOUR = MappingProxyType(
    {"alumina": 0.4, "green_sic": 0.4, "boron_carbide": 1.0, "diamond": 30.0, "colloidal_silica": 20.0, "ceria": 10.0}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """Prices in the lab's currency for planning.

    `person` and `machine` are for an hour, `plates` for an hour at the machine that bears a plate, by its library id,
    where it costs something else; `slurry` for an hour by kind of abrasive; `pad` for one pad that lasts `pad_life`
    [s]; `piece_price` is what each wafer uses up besides; `wafer` is what a lost wafer costs, None where nobody said.
    """

    person: float = 60.0
    machine: float = 20.0
    plates: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    slurry: Mapping[str, float] = field(default_factory=lambda: _SLURRY_AN_HOUR)
    pad: float = 60.0
    pad_life: float = 40.0 * _HOUR
    piece_price: float = 0.0
    wafer: float | None = None
    are_own: bool = False

    def __post_init__(self) -> None:
        for name in ("person", "machine", "pad", "piece_price"):
            if not getattr(self, name) >= 0.0:
                raise OutOfValidRange(name, getattr(self, name), "zero or more")
        if not self.pad_life > 0.0:
            raise OutOfValidRange("pad_life", self.pad_life, "more than zero [s]")


USUAL_PRICES = Prices()


def machine_hour(prices: Prices, *, process: str, abrasive_kind: str, plate: str = "") -> float:
    """Price of an hour at the machine with its slurry and pad.

    Parameters
    ----------
    prices : Prices
        The lab's, or the usual ones.
    process : str
        Lap, polish or etch.
    abrasive_kind : str
        Kind of abrasive; one that is not priced costs nothing.
    plate : str
        Library id of plate or pad, for a machine with a price of its own.

    Returns
    -------
    float [1]
        In the lab's currency.

    Examples
    --------
    >>> machine_hour(Prices(machine=10.0, pad=40.0, pad_life=40.0 * 3600.0, slurry={"ceria": 5.0}),
    ...     process="polish", abrasive_kind="ceria")
    16.0
    """
    hour = prices.plates.get(plate, prices.machine) + prices.slurry.get(abrasive_kind, 0.0)
    if process == "polish":
        hour += prices.pad * _HOUR / prices.pad_life
    return hour


def cutting_cost(prices: Prices, *, hour: float, time: float, around: float) -> float:
    """Cost of one stage: machine time at the price of its hour, a person's time for what is around it.

    Parameters
    ----------
    prices : Prices
        The lab's, or the usual ones.
    hour : float [1]
        Price of an hour at the machine, as `machine_hour` gives it.
    time : float [s]
        At the machine.
    around : float [s]
        A person's time beside it: rinse, dry, measure, change over.

    Returns
    -------
    float [1]
        In the lab's currency.

    Examples
    --------
    >>> cutting_cost(Prices(person=60.0), hour=20.0, time=1800.0, around=600.0)
    20.0
    """
    return hour * time / _HOUR + prices.person * around / _HOUR


def expected_loss(prices: Prices, chance: float) -> float:
    """What the wafers that do not pass cost, for each one started.

    Parameters
    ----------
    prices : Prices
        With what a lost wafer costs; nothing is added where nobody has said.
    chance : float [1]
        Chance that a wafer passes.

    Returns
    -------
    float [1]
        In the lab's currency.

    Examples
    --------
    >>> expected_loss(Prices(wafer=640.0), 0.95)
    32.0
    """
    return 0.0 if prices.wafer is None else round(prices.wafer * (1.0 - chance), 12)
