"""Use cases: carriers, jigs and stations."""

from __future__ import annotations

from datetime import datetime

from lapwright.model.shelf import Jig, RecordedCarrier, RecordedJig, RecordedStation, Station
from lapwright.model.wafer import Carrier


def receive_carrier(carrier: Carrier, *, by: str, reason: str, at: datetime) -> RecordedCarrier:
    """Record a carrier. Raises `Conflict` when its name is taken."""
    raise NotImplementedError


def show_carrier(carrier_id: str) -> RecordedCarrier:
    """One carrier. Raises `NotFound`."""
    raise NotImplementedError


def list_carriers() -> tuple[RecordedCarrier, ...]:
    """All carriers, by name."""
    raise NotImplementedError


def register_jig(jig: Jig, *, by: str, reason: str, at: datetime) -> RecordedJig:
    """Record a jig, or its changed geometry; a change voids the zeros taken on it."""
    raise NotImplementedError


def list_jigs() -> tuple[RecordedJig, ...]:
    """All jigs, by name."""
    raise NotImplementedError


def set_up_station(
    station: Station, *, by: str, reason: str, at: datetime, version: int | None = None
) -> RecordedStation:
    """Record a station and what is on it now; another plate or abrasive voids the zeros taken there."""
    raise NotImplementedError


def list_stations() -> tuple[RecordedStation, ...]:
    """All stations, by name."""
    raise NotImplementedError
