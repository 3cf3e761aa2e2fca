"""Pieces on one carrier from CSV: one row a site, with the place and turn of its piece on the carrier.

`at_x_mm`, `at_y_mm` and `turn_deg` say where the middle of the piece lies on the carrier and how far it is turned
there; `x_mm`, `y_mm` is the site in the frame of the piece; `wafer_um` and `stack_um` were read at it. All of it
looking at the worked faces.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lapwright.formats.faults import FaultList
from lapwright.formats.table_csv import Columns, read_columns
from lapwright.process.piece_sites import MountedPiece

_PLACE = ("at_x_mm", "at_y_mm", "turn_deg")


def read_pieces(path: Path) -> tuple[MountedPiece, ...]:
    """Pieces in the order of the file, sites in the carrier's frame.

    Raises `FileFormatError` for a file that cannot be read, `BadInput` with every fault.
    """
    found = read_columns(path, numbers=[*_PLACE, "x_mm", "y_mm", "wafer_um", "stack_um"], names=["piece"])
    _check(found)
    names = np.array(found.names["piece"])
    return tuple(_piece(found, name, np.flatnonzero(names == name)) for name in dict.fromkeys(found.names["piece"]))


# ----------------------------------------------------------------------------------------------------------------------


def _check(found: Columns) -> None:
    faults = FaultList(found.name)
    first: dict[str, int] = {}
    for place, name in enumerate(found.names["piece"]):
        begun, row = first.setdefault(name, place), int(found.rows[place])
        for title in _PLACE:
            known, here = (float(found.numbers[title][one]) for one in (begun, place))
            if here != known:
                sentence = (
                    f"Row {row}, {title}: piece {name!r} lies at {here:g} here and at {known:g} further up; it has one"
                    " place."
                )
                faults.add(sentence, code="pieces.moved", row=row, field=title)
        wafer, stack = (float(found.numbers[title][place]) for title in ("wafer_um", "stack_um"))
        if not 0.0 < wafer < stack:
            sentence = (
                f"Row {row}: the wafer, {wafer:g} µm, must be above zero and less than the stack, {stack:g} µm, which"
                " counts the carrier in."
            )
            faults.add(sentence, code="pieces.no_stack", row=row, field="stack_um", unit="µm")
    faults.settle()


def _piece(found: Columns, name: str, own: NDArray[np.intp]) -> MountedPiece:
    numbers = {title: values[own] for title, values in found.numbers.items()}
    at = complex(numbers["at_x_mm"][0], numbers["at_y_mm"][0])
    turn = np.exp(1j * np.deg2rad(numbers["turn_deg"][0]))
    places = (at + turn * (numbers["x_mm"] + 1j * numbers["y_mm"])) * 1e-3
    return MountedPiece(
        name=name,
        x=tuple(places.real.tolist()),
        y=tuple(places.imag.tolist()),
        stack=tuple((numbers["stack_um"] * 1e-6).tolist()),
        thickness=tuple((numbers["wafer_um"] * 1e-6).tolist()),
    )
