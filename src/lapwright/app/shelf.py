"""Use cases: carriers, jigs and stations."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from lapwright.errors import Conflict
from lapwright.model.job import RecordedZero
from lapwright.model.readings import Signature
from lapwright.model.shelf import Jig, RecordedCarrier, RecordedJig, RecordedStation, Station
from lapwright.model.wafer import Carrier


def receive_carrier(carrier: Carrier, *, by: str, reason: str, at: datetime) -> RecordedCarrier:
    """Record a carrier. Raises `Conflict` when its name is taken."""
    from lapwright.records import writer

    return writer.add_carrier(carrier, Signature(by=by, at=at, reason=reason))


def receive_carriers(carriers: Sequence[Carrier], *, by: str, reason: str, at: datetime) -> tuple[RecordedCarrier, ...]:
    """Record several carriers, all or none. Raises `Conflict` naming every one whose name is taken."""
    from lapwright.records import queries, writer

    signature = Signature(by=by, at=at, reason=reason)
    with writer.transaction():
        held = {one.carrier.carrier_id for one in queries.carriers()}
        taken = [one.carrier_id for one in carriers if one.carrier_id in held]
        if taken:
            raise Conflict(f"Recorded already: {', '.join(taken)}. Take other names; none was recorded.")
        return tuple(writer.add_carrier(one, signature) for one in carriers)


def show_carrier(carrier_id: str) -> Carrier:
    """One carrier, without what is on it. Raises `NotFound`."""
    from lapwright.records import queries

    return queries.carrier_itself(carrier_id)


def list_carriers() -> tuple[RecordedCarrier, ...]:
    """All carriers, by name."""
    from lapwright.records import queries

    return queries.carriers()


def register_jig(jig: Jig, *, by: str, reason: str, at: datetime, version: int | None = None) -> RecordedJig:
    """Record a jig, or its changed geometry; a change voids the zeros taken on it."""
    from lapwright.records import queries, writer

    signature = Signature(by=by, at=at, reason=reason)
    with writer.transaction():
        recorded = writer.put_jig(jig, signature, version=version)
        if recorded.version > 1:
            _void(queries.holding_zeros(jig_id=jig.jig_id), f"the jig {jig.jig_id} was changed", signature)
        return recorded


def list_jigs() -> tuple[RecordedJig, ...]:
    """All jigs, by name."""
    from lapwright.records import queries

    return queries.jigs()


def set_up_station(
    station: Station, *, by: str, reason: str, at: datetime, version: int | None = None
) -> RecordedStation:
    """Record a station and what is on it now; another plate or abrasive voids the zeros taken there."""
    from lapwright.app import station_setup
    from lapwright.records import queries, writer

    signature = Signature(by=by, at=at, reason=reason)
    with writer.transaction():
        station_setup.need_fitting(station)
        recorded = writer.put_station(station, signature, version=version)
        changed = [
            zero
            for zero in queries.holding_zeros(station_id=station.station_id)
            if (zero.plate, zero.abrasive) != (station.plate, station.abrasive)
        ]
        _void(tuple(changed), f"plate or abrasive of {station.station_id} was changed", signature)
        return recorded


def show_station(station_id: str) -> RecordedStation:
    """One station with its version. Raises `NotFound`."""
    from lapwright.records import queries

    return queries.station(station_id)


def list_stations() -> tuple[RecordedStation, ...]:
    """All stations, by name."""
    from lapwright.records import queries

    return queries.stations()


# ----------------------------------------------------------------------------------------------------------------------


def _void(zeros: tuple[RecordedZero, ...], why: str, signature: Signature) -> None:
    from lapwright.records import writer

    for zero in zeros:
        writer.void_zero(zero.zero_id, why, signature)
