"""Use cases: the measured shape of a plate, point by point: as read, and levelled against the parabola through it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import NotFound
from lapwright.model.plates import CheckMethod, Plate, PlateEntry, PlateReading
from lapwright.process.plate import PlateShape


@dataclass(frozen=True, slots=True, kw_only=True)
class PlatePoint:
    """A reading at its place (x, y) from the plate's axis [m]: as read, and its height over the rim once levelled [m].

    `fitted` is the parabola's height there [m]. Of a bar, x lies along it and y is 0.
    """

    x: float
    y: float
    laying: int
    reading: float
    height: float
    fitted: float

    @property
    def left(self) -> float:
        """What the parabola leaves [m]."""
        return self.height - self.fitted


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateCheck:
    """A check in a list: its number, when it was made, and how."""

    entry_id: int
    at: datetime
    method: CheckMethod


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateMap:
    """The shape that a check tells, with its points; `checks` are those that stand, the latest first."""

    plate: Plate
    check: PlateCheck
    shape: PlateShape
    points: tuple[PlatePoint, ...]
    checks: tuple[PlateCheck, ...]


def plate_map(plate_id: str, entry_id: int | None = None, *, at: datetime) -> PlateMap | None:
    """The shape of one check, or of the latest; None for a plate never checked. Raises `NotFound` for another check."""
    from lapwright.app.plates import show_plate

    now = show_plate(plate_id, at=at)
    lines = [line for line in now.lines if line.shape is not None][::-1]
    if not lines:
        return None
    chosen = lines[0] if entry_id is None else next((one for one in lines if one.recorded.entry_id == entry_id), None)
    if chosen is None or chosen.shape is None:
        raise NotFound(f"Plate {plate_id} has no check {entry_id} that stands. Choose one of its history.")
    checks = tuple(_check(line.recorded.entry_id, line.recorded.signature.at, line.recorded.entry) for line in lines)
    return PlateMap(
        plate=now.plate,
        check=next(one for one in checks if one.entry_id == chosen.recorded.entry_id),
        shape=chosen.shape,
        points=plate_points(chosen.recorded.entry, chosen.shape, now.plate.outer_radius),
        checks=checks,
    )


def plate_points(entry: PlateEntry, shape: PlateShape, outer: float) -> tuple[PlatePoint, ...]:
    """The readings of a check levelled against its shape, heights over the rim at `outer` [m]; none for one sagitta."""
    if entry.method == "map":
        return _levelled(entry.readings, shape, outer)
    if entry.method != "straightedge":
        return ()
    found: list[PlatePoint] = []
    for laying in sorted({one.laying for one in entry.readings}):
        found += _levelled([one for one in entry.readings if one.laying == laying], shape, outer)
    return tuple(found)


# ----------------------------------------------------------------------------------------------------------------------


def _check(entry_id: int, at: datetime, entry: PlateEntry) -> PlateCheck:
    return PlateCheck(entry_id=entry_id, at=at, method=entry.method or "straightedge")


def _levelled(
    readings: tuple[PlateReading, ...] | list[PlateReading], shape: PlateShape, outer: float
) -> tuple[PlatePoint, ...]:
    """Level and tilt are those that leave the least beside the parabola."""
    x, y = np.array([one.place for one in readings]), np.array([one.across for one in readings])
    read = np.array([one.value for one in readings])
    fitted = shape.dome * (1.0 - (x**2 + y**2) / outer**2)
    height = read - _plane(x, y, read - fitted)
    return tuple(
        PlatePoint(x=float(a), y=float(b), laying=one.laying, reading=one.value, height=float(h), fitted=float(f))
        for one, a, b, h, f in zip(readings, x, y, height, fitted, strict=True)
    )


def _plane(x: NDArray[np.float64], y: NDArray[np.float64], bare: NDArray[np.float64]) -> NDArray[np.float64]:
    """The plane of least squares through heights, at their places: along a bar a line, for one point a level."""
    columns = [np.ones_like(x), *([x] if np.ptp(x) > 0.0 else []), *([y] if np.ptp(y) > 0.0 else [])]
    design = np.column_stack(columns)
    return np.asarray(design @ np.linalg.lstsq(design, bare, rcond=None)[0], dtype=np.float64)
