"""What work costs, in the money of the lab: the price list that routes, costs and quotations are reckoned with.

Hours, pads and pieces are priced in whole currency units; times are in seconds, as everywhere inside.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

from lapwright.errors import BadInput, Fault
from lapwright.model.readings import Signature

#: Beyond this a price or a time was typed into the wrong box.
MOST_PRICE = 1e9
MOST_TIME = 1e7  # s
MOST_OVERHEAD = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceList:
    """Prices and planning times of a lab.

    `labour` is for an hour of a person, `station_hour` for one of a station that `station_hours` does not name;
    `station_hours` holds (station, price of an hour) and `slurry_hours` (kind of abrasive, price of an hour of its
    feed). A `pad` lasts `pad_life` [s]. `piece_price` is what each wafer uses up besides: adhesive, solvent, wipes.
    `scrap` is what a lost wafer costs where its order names no value; None where nobody has said. `measuring_time` and
    `cleaning_time` [s] are a person's for one measurement and one cleaning, `set_up_time` [s] a person's for an order
    as a whole, `overhead` [1] a share on all that the lab spends itself. Lists recorded before those two lack them.
    """

    currency: str = ""
    labour: float
    station_hour: float
    station_hours: tuple[tuple[str, float], ...] = ()
    slurry_hours: tuple[tuple[str, float], ...] = ()
    pad: float
    pad_life: float
    piece_price: float = 0.0
    scrap: float | None = None
    measuring_time: float
    cleaning_time: float
    set_up_time: float = 0.0
    overhead: float = 0.0

    def __post_init__(self) -> None:
        faults = [*self._wrong_prices(), *self._wrong_times(), *self._named_twice()]
        if faults:
            raise BadInput(faults, subject="The price list")

    def _wrong_prices(self) -> list[Fault]:
        names = ("labour", "station_hour", "pad", "piece_price")
        single: dict[str, float] = {name: getattr(self, name) for name in names}
        if self.scrap is not None:
            single["scrap"] = self.scrap
        told = [(name, name.replace("_", " "), price) for name, price in single.items()]
        told += [("station_hours", f"the station {name}", price) for name, price in self.station_hours]
        told += [("slurry_hours", f"the slurry of {name}", price) for name, price in self.slurry_hours]
        return [
            Fault(sentence=f"The price of {what} must be zero or more, at most 1e9; found {price:g}.", field=field)
            for field, what, price in told
            if not (math.isfinite(price) and 0.0 <= price <= MOST_PRICE)
        ]

    def _wrong_times(self) -> list[Fault]:
        faults = [
            Fault(
                sentence=f"The {name.replace('_', ' ')} must be zero or more, below 1e7 s; found {time:g} s.",
                field=name,
            )
            for name in ("measuring_time", "cleaning_time", "set_up_time")
            for time in (float(getattr(self, name)),)
            if not (math.isfinite(time) and 0.0 <= time <= MOST_TIME)
        ]
        if not (math.isfinite(self.pad_life) and 0.0 < self.pad_life <= MOST_TIME):
            sentence = f"The life of a pad must be more than zero, below 1e7 s; found {self.pad_life:g} s."
            faults.append(Fault(sentence=sentence, field="pad_life"))
        if not (math.isfinite(self.overhead) and 0.0 <= self.overhead <= MOST_OVERHEAD):
            sentence = f"The overhead must be from 0 to 1000 %; found {100.0 * self.overhead:g} %."
            faults.append(Fault(sentence=sentence, field="overhead"))
        return faults

    def _named_twice(self) -> list[Fault]:
        return [
            Fault(sentence=f"{name} is priced {count} times; give it one price.", field=field)
            for field, priced in (("station_hours", self.station_hours), ("slurry_hours", self.slurry_hours))
            for name, count in Counter(one for one, _ in priced).items()
            if count > 1
        ]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedPrices:
    """A version of the price list as recorded; the latest number holds."""

    number: int
    prices: PriceList
    signature: Signature
