"""Writing carriers, jigs, stations, gauges and calibrations."""

from __future__ import annotations

from typing import Any

from lapwright.errors import Conflict
from lapwright.model.readings import Calibration, Gauge, Signature
from lapwright.model.shelf import Jig, RecordedCarrier, RecordedJig, RecordedStation, Station
from lapwright.model.supply import pad_parts
from lapwright.model.wafer import Carrier
from lapwright.records import models, queries, supply_queries
from lapwright.records.coding import to_plain
from lapwright.records.faults import one_transaction
from lapwright.records.writer.base import add, change, locked


def add_carrier(carrier: Carrier, signature: Signature) -> RecordedCarrier:
    """A new carrier."""
    with one_transaction():
        if models.Carrier.objects.filter(carrier_id=carrier.carrier_id).exists():
            raise Conflict(f"The carrier {carrier.carrier_id!r} is recorded already. Use another name.")
        add(models.Carrier, signature, carrier_id=carrier.carrier_id, definition=to_plain(carrier))
        return queries.carrier(carrier.carrier_id)


def put_jig(jig: Jig, signature: Signature, *, version: int | None = None) -> RecordedJig:
    """A jig, new or changed."""
    _put(models.Jig, "jig_id", jig.jig_id, to_plain(jig), signature, version=version)
    return queries.jig(jig.jig_id)


def put_station(station: Station, signature: Signature, *, version: int | None = None) -> RecordedStation:
    """A station, new or changed."""
    _put(
        models.Station, "station_id", station.station_id, to_plain(station), signature, version=version,
        **keys_of(station),
    )  # fmt: skip
    return queries.station(station.station_id)


def keys_of(station: Station, *, held: models.Station | None = None) -> dict[str, Any]:
    """The lots and the plate that a station names, by key; what the row held already stays; None for other names."""
    piece = station.plate_piece or ""
    abrasive, pad = (None, None) if held is None else (held.abrasive_supply, held.pad_supply)
    return {
        "abrasive_supply": abrasive or supply_queries.row_named(station.abrasive_lot),
        "pad_supply": pad or supply_queries.row_named(pad_parts(piece)[0]),
        "plate_record": models.Plate.objects.filter(plate_id=piece).first(),
    }


def put_gauge(gauge: Gauge, signature: Signature, *, version: int | None = None) -> None:
    """A gauge, new or changed."""
    _put(models.Gauge, "gauge_id", gauge.gauge_id, to_plain(gauge), signature, version=version)


def add_calibration(calibration: Calibration, signature: Signature) -> None:
    """A calibration of a gauge."""
    with one_transaction():
        gauge = queries.find(models.Gauge.objects.all(), "gauge_id", calibration.gauge_id)
        add(
            models.Calibration,
            signature,
            gauge=gauge,
            certificate=calibration.certificate,
            done=calibration.done,
            due=calibration.due,
            deviation_m=calibration.deviation,
            expanded_uncertainty_m=calibration.expanded_uncertainty,
            passed=calibration.passed,
            interval_days=calibration.interval_days,
            as_found_m=calibration.as_found,
            curve=to_plain(calibration.curve) if calibration.curve else None,
        )


# ----------------------------------------------------------------------------------------------------------------------


def _put(
    model: type[models.Jig | models.Station | models.Gauge],
    key: str,
    name: str,
    definition: Any,
    signature: Signature,
    *,
    version: int | None,
    **keys: Any,
) -> None:
    with one_transaction():
        if not model.objects.filter(**{key: name}).exists():
            add(model, signature, definition=definition, **{key: name}, **keys)
            return
        row = locked(model, **{key: name})
        if row.definition != definition or any(getattr(row, one) != held for one, held in keys.items()):
            change(row, signature, version=version, definition=definition, **keys)
