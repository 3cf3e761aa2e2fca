"""Use case: what is on a station now, noted by the person who put it there: lot, piece, fresh slurry, dressing.

Rates are learned for each lot and piece, and with the age of slurry and pad, only where these are named; so they are
asked for where the run is started.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from lapwright.app import lot_names
from lapwright.errors import BadInput, Conflict, Fault
from lapwright.model.plates import PlateEntry
from lapwright.model.readings import Signature
from lapwright.model.shelf import RecordedStation, Station
from lapwright.model.supply import PAD_MARK

_MOST_LETTERS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupNote:
    """What a person says of a station: lot of the abrasive and name of the very plate or pad, "" where not known.

    Both as on the shelf, as scanned from a label, or in words of one's own. A lot of pads as the piece is the one of it
    that lies there, or a new one of it. `is_charged`: fresh slurry was put on now; `is_dressed`: plate or pad was
    dressed now; `is_new_pad`: another pad of the same lot was put on.
    """

    abrasive_lot: str = ""
    plate_piece: str = ""
    is_charged: bool = False
    is_dressed: bool = False
    is_new_pad: bool = False


def note_setup(
    station_id: str, note: SetupNote, *, version: int | None = None, by: str, reason: str, at: datetime
) -> RecordedStation:
    """Record what is on a station now. Another lot is fresh slurry; another piece begins its hours anew.

    A dressing is also a line in the history of the plate that lies there, a new pad is taken of its lot. The zeros
    taken there still hold: another plate or abrasive is another set-up. Raises `BadInput` for names too long, codes
    misread, and lots of something else; `Conflict` while a run goes on there.
    """
    from lapwright.records import queries, writer

    signature = Signature(by=by, at=at, reason=reason)
    with writer.transaction():
        before = queries.station(station_id).station
        if any(run.station_id == station_id for run in queries.running_runs()):
            raise Conflict(f"A run goes on at {station_id}. Note what is on it before the next one.")
        read = replace(
            note,
            abrasive_lot=lot_names.as_scanned(note.abrasive_lot, field="abrasive_lot"),
            plate_piece=lot_names.as_scanned(note.plate_piece, field="plate_piece"),
        )
        need_fitting(replace(before, abrasive_lot=read.abrasive_lot, plate_piece=read.plate_piece))
        pad = _pad_put_on(before, read)
        after = noted(before, read if pad is None else replace(read, plate_piece=pad[1]), at)
        recorded = writer.put_station(after, signature, version=version)
        if note.is_dressed:
            _note_on_plate(station_id, signature)
        if pad is not None and pad[1] != before.plate_piece:
            writer.add_use(pad[0], "used", 1.0, replace(signature, reason=f"put on {station_id}"))
        return recorded


def noted(before: Station, note: SetupNote, at: datetime) -> Station:
    """The station with what was said of it. Raises `BadInput`."""
    lot, piece = note.abrasive_lot.strip() or None, note.plate_piece.strip() or None
    faults = [
        Fault(sentence=f"The {word} has {len(text)} letters; at most {_MOST_LETTERS} are taken.", field=field)
        for field, word, text in (("abrasive_lot", "lot", lot or ""), ("plate_piece", "name of the piece", piece or ""))
        if len(text) > _MOST_LETTERS
    ]
    if faults:
        raise BadInput(faults, subject="What is on the station")
    is_fresh = note.is_charged or (lot is not None and lot != before.abrasive_lot)
    dressed_at = before.dressed_at if piece == before.plate_piece else None
    return replace(
        before,
        abrasive_lot=lot,
        plate_piece=piece,
        charged_at=at if is_fresh else before.charged_at,
        dressed_at=at if note.is_dressed else dressed_at,
    )


def need_fitting(station: Station) -> None:
    """Raise `BadInput` when a lot that a station names is, by the shelf, of something else than what is on it."""
    faults = [
        fault
        for fault in (
            lot_names.unfit("abrasive_lot", station.abrasive_lot, ("slurry", "abrasive"), station.abrasive),
            lot_names.unfit("plate_piece", station.plate_piece, ("pad",), station.plate),
        )
        if fault is not None
    ]
    if faults:
        raise BadInput(faults, subject="What is on the station")


def with_ages(station: Station, *, is_charged: bool, is_dressed: bool, at: datetime) -> Station:
    """A station newly set up, with what is known of its slurry and plate where these stay the same."""
    from lapwright.records import queries

    before = next((one.station for one in queries.stations() if one.station.station_id == station.station_id), None)
    same_slurry = before is not None and (before.abrasive, before.abrasive_lot) == (
        station.abrasive, station.abrasive_lot,
    )  # fmt: skip
    same_plate = before is not None and (before.plate, before.plate_piece) == (station.plate, station.plate_piece)
    return replace(
        station,
        charged_at=at if is_charged else before.charged_at if before is not None and same_slurry else None,
        dressed_at=at if is_dressed else before.dressed_at if before is not None and same_plate else None,
    )


# ----------------------------------------------------------------------------------------------------------------------


def _pad_put_on(before: Station, note: SetupNote) -> tuple[str, str] | None:
    """Lot and name of the pad that lies there when the piece is named by its lot: the same one, or the next."""
    from lapwright.records import supply_queries

    name = supply_queries.names_now().get(lot_names.lot_part(note.plate_piece))
    if name is None:
        return None
    here = before.plate_piece or ""
    if not note.is_new_pad and (PAD_MARK in note.plate_piece or here.startswith(f"{name}{PAD_MARK}")):
        return name, note.plate_piece.strip() if PAD_MARK in note.plate_piece else here
    taken = sum(one.kind == "used" for one in supply_queries.lot(name).uses)
    return name, f"{name}{PAD_MARK}{taken + 1}"


def _note_on_plate(station_id: str, signature: Signature) -> None:
    """A line in the history of each plate that lies on the station."""
    from lapwright.records import plate_queries, writer

    for one in plate_queries.plates():
        if one.plate.station_id != station_id:
            continue
        history = plate_queries.entries(one.plate.plate_id)
        since = max((line.signature.at for line in history), default=None)
        ran = 0.0 if since is None else plate_queries.ran_on(station_id, since=since, until=signature.at)
        writer.add_plate_entry(one.plate.plate_id, PlateEntry(kind="dressed", ran=ran), signature)
