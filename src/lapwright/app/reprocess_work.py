"""What a worker does to compute records anew: no database, no file, only what it was sent. Plain values come back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from lapwright.app.surface_readings import Files
from lapwright.errors import LapwrightError
from lapwright.model.job import RecordedSet
from lapwright.model.live import RecordedStream
from lapwright.model.order import Quantity
from lapwright.model.surface_record import BondPhoto, FringeSettings, Numbers, RecordedSurface

MOST_DEVIATION = 1.0  # standard uncertainties by which the removal of a run may come out otherwise
#: Told of one record: its number, its piece, and name -> (as recorded, as it comes out now).
_Pairs = Mapping[str, tuple[float | None, float | None]]


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceLoad:
    """Measured faces with their files and the materials of their wafers."""

    tolerance: float
    faces: tuple[tuple[RecordedSurface, Files, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetLoad:
    """Sets with what was judged by them (name, quantity, value [m]), and how far a zero may move [m]."""

    tolerance: float
    allowed_drift: float
    sets: tuple[tuple[RecordedSet, tuple[tuple[int, Quantity, float | None], ...]], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunLoad:
    """Streams with the times [s] and lengths [m] of their readings."""

    streams: tuple[tuple[RecordedStream, list[float], list[float]], ...]


def faces_again(load: FaceLoad) -> dict[str, Any]:
    """Faces read again from their files by their own settings."""
    tally = _Tally(load.tolerance)
    for face, files, material in load.faces:
        try:
            found = _face_numbers(face, files, material)
        except LapwrightError as error:
            tally.refuse(face.surface_id, face.wafer_id, error.sentence)
            continue
        names = sorted({*face.numbers, *found})
        tally.take(face.surface_id, face.wafer_id, {name: (face.numbers.get(name), found.get(name)) for name in names})
    return tally.plain()


def sets_again(load: SetLoad) -> dict[str, Any]:
    """Sets computed again from their readings, against the values that verdicts rest on."""
    from lapwright.app.evidence import judged_numbers

    tally = _Tally(load.tolerance)
    for recorded, judged in load.sets:
        try:
            found = judged_numbers(recorded, load.allowed_drift)
        except LapwrightError as error:
            tally.refuse(recorded.set_id, recorded.piece, error.sentence)
            continue
        tally.take(
            recorded.set_id,
            recorded.piece,
            {f"{quantity} of verdict {verdict}": (value, found.get(quantity)) for verdict, quantity, value in judged},
        )
    return tally.plain()


def runs_again(load: RunLoad) -> dict[str, Any]:
    """Runs followed again from their raw readings: the removal at the stop, and whether the same ended them."""
    tally = _Tally(0.0)
    for stream, times, lengths in load.streams:
        why = _not_comparable(stream)
        if why:
            tally.left_out.append([stream.stream_id, stream.wafer_id, why])
            continue
        told, found, deviation, stops_for = _followed(stream, times, lengths)
        tally.records += 1
        tally.numbers += 1
        tally.largest = max(tally.largest, deviation)
        if deviation > MOST_DEVIATION:
            tally.changed.append([stream.stream_id, stream.wafer_id, "removal at the stop", told, found])
        if stream.outcome in ("target", "fault") and stops_for != _told_stop(stream):
            sentence = f"Ended by {_told_stop(stream)}; this version would end it by {stops_for}."
            tally.refuse(stream.stream_id, stream.wafer_id, sentence, counted=False)
    return tally.plain()


# ----------------------------------------------------------------------------------------------------------------------


class _Tally:
    """Counts and differences of one chunk."""

    def __init__(self, tolerance: float) -> None:
        self.tolerance, self.records, self.numbers, self.largest = tolerance, 0, 0, 0.0
        self.changed: list[list[Any]] = []
        self.refused: list[list[Any]] = []
        self.left_out: list[list[Any]] = []

    def take(self, record_id: int, piece: str, pairs: _Pairs) -> None:
        """The numbers of one record."""
        self.records += 1
        for name, (told, found) in pairs.items():
            self.numbers += 1
            apart = _apart(told, found)
            if math.isfinite(apart):
                self.largest = max(self.largest, apart)
            if apart > self.tolerance:
                self.changed.append([record_id, piece, name, told, found])

    def refuse(self, record_id: int, piece: str, sentence: str, *, counted: bool = True) -> None:
        """A record that does not come out any more."""
        self.records += counted
        self.refused.append([record_id, piece, sentence])

    def plain(self) -> dict[str, Any]:
        """As JSON takes it."""
        names = ("records", "numbers", "largest", "changed", "refused", "left_out")
        return {name: getattr(self, name) for name in names}


def _apart(told: float | None, found: float | None) -> float:
    """Difference, relative for numbers beyond 1 and else in SI; infinite when only one of the two is there."""
    if told is None or found is None or math.isnan(told) or math.isnan(found):
        return 0.0 if _is_none(told) and _is_none(found) else math.inf
    return 0.0 if told == found else abs(told - found) / max(1.0, abs(told), abs(found))


def _is_none(value: float | None) -> bool:
    return value is None or math.isnan(value)


def _face_numbers(face: RecordedSurface, files: Files, material: str) -> Numbers:
    from lapwright.app import bond_voids, profile_readings, surface_readings

    if isinstance(face.settings, FringeSettings):
        return surface_readings.read_fringes(files, face.settings).numbers
    name, content = files[0]
    if isinstance(face.settings, BondPhoto):
        return bond_voids.photo_numbers(bond_voids.read_bond_photo(content, face.settings, name=name)[1])
    return profile_readings.read_profile(content, face.settings, name=name, material=material).numbers


def _not_comparable(stream: RecordedStream) -> str:
    if stream.feed is None or stream.target is None or stream.rate is None:
        return "It was not followed by a gauge."
    if stream.ended_after is None or stream.ended_removed is None or not stream.ended_uncertainty:
        return "Its estimate at the stop is not on record."
    if any(event.kind in ("check", "new_rate") for event in stream.events):
        return "Its estimate was moved by a check reading or a change of load in the run."
    return ""


def _followed(stream: RecordedStream, times: list[float], lengths: list[float]) -> tuple[float, float, float, str]:
    """Removal at the recorded stop as told and as it comes out now, how far apart, and what would end it now."""
    from lapwright.app.recorder.following import removal_shown
    from lapwright.app.run_ends import LEAST_BAND, endpoint_config
    from lapwright.process.endpoint import judge, start, update
    from lapwright.process.endpoint_follow import followed_run

    assert stream.feed is not None
    assert stream.target is not None
    assert stream.rate is not None
    assert stream.ended_after is not None
    assert stream.ended_removed is not None
    assert stream.ended_uncertainty is not None
    config = endpoint_config(stream.feed, target=stream.target, rate=stream.rate, rate_band=LEAST_BAND)
    shown = [removal_shown(one, zero=stream.zero, direction=stream.feed.direction) for one in lengths]
    state = start(config, 0.0)
    for time, removal in zip(times, shown, strict=True):
        if time <= stream.ended_after:
            update(state, time, removal)
    found = judge(state, max(stream.ended_after, state.time)).removed
    decision = followed_run(config, times, shown).decision
    stops_for = decision.faults[0].code if decision.advice == "stop_fault" else "the target"
    apart = abs(found - stream.ended_removed) / stream.ended_uncertainty
    return stream.ended_removed, found, apart, stops_for


def _told_stop(stream: RecordedStream) -> str:
    return stream.ended_code if stream.outcome == "fault" else "the target"
