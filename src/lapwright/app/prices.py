"""Use cases: what work costs: the price list version by version, and the prices and times that routes are planned with.

While no list is recorded, the usual prices hold, which are in no particular currency and are said to be such.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from lapwright.app.kept_results import kept_until
from lapwright.errors import BadInput, Fault
from lapwright.model.prices import PriceList, RecordedPrices
from lapwright.model.readings import Signature

if TYPE_CHECKING:
    from lapwright.process.route_cost import Prices
    from lapwright.process.workplaces import Assumptions

_HOUR = 3600.0
_MINUTE = 60.0
#: What is compared between two versions: field, words, factor to what is shown, unit.
_COMPARED = (
    ("currency", "currency", None, ""),
    ("labour", "an hour of a person", 1.0, ""),
    ("station_hour", "an hour of a station", 1.0, ""),
    ("pad", "a pad", 1.0, ""),
    ("pad_life", "life of a pad", 1.0 / _HOUR, " h"),
    ("piece_price", "consumables of a wafer", 1.0, ""),
    ("scrap", "a lost wafer", 1.0, ""),
    ("measuring_time", "a measurement", 1.0 / _MINUTE, " min"),
    ("cleaning_time", "a cleaning", 1.0 / _MINUTE, " min"),
    ("set_up_time", "set-up of an order", 1.0 / _MINUTE, " min"),
    ("overhead", "overhead", 100.0, " %"),
)


def usual_prices() -> PriceList:
    """The prices that hold while nobody has recorded others: common practice, in no particular currency."""
    from lapwright.process.route_cost import USUAL_PRICES
    from lapwright.process.workplaces import USUAL_ASSUMPTIONS

    return PriceList(
        labour=USUAL_PRICES.person,
        station_hour=USUAL_PRICES.machine,
        slurry_hours=tuple(USUAL_PRICES.slurry.items()),
        pad=USUAL_PRICES.pad,
        pad_life=USUAL_PRICES.pad_life,
        piece_price=USUAL_PRICES.piece_price,
        measuring_time=USUAL_ASSUMPTIONS.measuring_time,
        cleaning_time=USUAL_ASSUMPTIONS.cleaning_time,
    )


def recorded_prices() -> RecordedPrices | None:
    """The version of the price list that holds; None while none is recorded."""
    from lapwright.records import price_queries

    return kept_until(frozenset({"pricelist"}), ("prices",), price_queries.latest_prices)


def price_list() -> PriceList:
    """The price list that holds, the usual one while none is recorded."""
    recorded = recorded_prices()
    return usual_prices() if recorded is None else recorded.prices


def price_versions() -> tuple[RecordedPrices, ...]:
    """All versions of the price list, the earliest first."""
    from lapwright.records import price_queries

    return price_queries.price_versions()


def record_prices(
    prices: PriceList, *, by: str, reason: str, at: datetime, after: int | None = None
) -> RecordedPrices | None:
    """Record a new version of the price list; a list that says what the latest says makes none.

    `after` is the version that the writer saw, 0 for none. Raises `BadInput` for stations or kinds of abrasive that
    are not known, all at once, and `Conflict` when another version was recorded since.
    """
    from lapwright.records import price_queries, writer

    faults = [
        Fault(sentence=f"Found {name!r}, expected one of {', '.join(known) or 'none yet'}.", field=field)
        for field, priced, known in (
            ("station_hours", prices.station_hours, stations_to_price()),
            ("slurry_hours", prices.slurry_hours, kinds_to_price()),
        )
        for name, _ in priced
        if name not in known
    ]  # fmt: skip
    if faults:
        raise BadInput(faults, subject="The price list")
    with writer.transaction():
        latest = price_queries.latest_prices()
        if latest is None or latest.prices != prices:
            writer.add_price_list(prices, Signature(by=by, at=at, reason=reason), after=after)
        return price_queries.latest_prices()


def stations_to_price() -> tuple[str, ...]:
    """Names of the stations that may have a price of their own."""
    from lapwright.records import queries

    return tuple(one.station.station_id for one in queries.stations())


def kinds_to_price() -> tuple[str, ...]:
    """Kinds of abrasive whose feed may be priced."""
    from lapwright.library import load

    return tuple(dict.fromkeys(one.kind for one in load().abrasives))


def differences(before: PriceList, after: PriceList) -> tuple[str, ...]:
    """What one version changed against another, in words: old value → new value."""
    found = []
    for field, word, factor, unit in _COMPARED:
        old, new = getattr(before, field), getattr(after, field)
        if old != new:
            found.append(f"{word} {_shown(old, factor, unit)} → {_shown(new, factor, unit)}")
    for word, priced, spoken in (("station", "station_hours", str), ("slurry of", "slurry_hours", _spoken)):
        old_prices, new_prices = dict(getattr(before, priced)), dict(getattr(after, priced))
        for name in dict.fromkeys((*old_prices, *new_prices)):
            old, new = old_prices.get(name), new_prices.get(name)
            if old != new:
                found.append(f"{word} {spoken(name)} {_shown(old, 1.0, '')} → {_shown(new, 1.0, '')}")
    return tuple(found)


def planning_prices(value_per_wafer: float | None = None) -> Prices:
    """The prices that routes of an order are reckoned with; a lost wafer costs what its order says, else the list."""
    from dataclasses import replace

    from lapwright.process.route_cost import USUAL_PRICES, Prices

    recorded = recorded_prices()
    if recorded is None:
        return replace(USUAL_PRICES, wafer=value_per_wafer)
    held = recorded.prices
    return Prices(
        person=held.labour,
        machine=held.station_hour,
        plates=_by_plate(held),
        slurry=dict(held.slurry_hours),
        pad=held.pad,
        pad_life=held.pad_life,
        piece_price=held.piece_price,
        wafer=held.scrap if value_per_wafer is None else value_per_wafer,
        are_own=True,
    )


def planning_assumptions() -> Assumptions:
    """What planning assumes, with the minutes of the price list."""
    from dataclasses import replace

    from lapwright.process.workplaces import USUAL_ASSUMPTIONS

    held = price_list()
    return replace(USUAL_ASSUMPTIONS, measuring_time=held.measuring_time, cleaning_time=held.cleaning_time)


# ----------------------------------------------------------------------------------------------------------------------


def _spoken(kind: str) -> str:
    """A kind of abrasive as one says it."""
    return {"green_sic": "green SiC"}.get(kind, kind.replace("_", " "))


def _by_plate(held: PriceList) -> dict[str, float]:
    """Price of an hour by the plate that lies on each priced station; of two alike stations the dearer one's."""
    from lapwright.records import queries

    priced = dict(held.station_hours)
    found: dict[str, float] = {}
    for one in queries.stations():
        plate = one.station.plate
        if plate is not None:
            price = priced.get(one.station.station_id, held.station_hour)
            found[plate] = max(price, found.get(plate, 0.0))
    return found


def _shown(value: object, factor: float | None, unit: str) -> str:
    if value is None or value == "":
        return "none"
    return str(value) if factor is None else f"{float(value) * factor:.10g}{unit}"  # type: ignore[arg-type]
