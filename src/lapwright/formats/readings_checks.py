"""Checks that need all rows of a readings file: sites that lie at two places, repeats given twice."""

from __future__ import annotations

import numpy as np

from lapwright.formats.faults import FaultList
from lapwright.formats.readings_header import Column
from lapwright.formats.readings_rows import Rows


def check_places(rows: Rows, found: dict[str, Column], faults: FaultList) -> None:
    """Report each row whose site lies elsewhere than in the first row of that site."""
    first = rows.site_row[_site_of_row(rows)]
    for name in ("x", "y"):
        values, column = rows.values[name], found[name]
        moved = (values != values[first]) & ~np.isnan(values) & ~np.isnan(values[first])
        for index in np.flatnonzero(moved):
            row, earlier = int(rows.number[index]), int(rows.number[first[index]])
            faults.add(
                f"Row {row}, column {column.title}: {_site_in_words(rows, index)} lies at {values[index]:g} "
                f"{column.symbol} here and at {values[first[index]]:g} {column.symbol} in row {earlier}; "
                "a site lies at one place.",
                code="site.contradiction",
                row=row,
                field=column.title,
                unit=column.symbol,
            )


def check_repeats(rows: Rows, faults: FaultList) -> None:
    """Report each row whose site and repeat stand already further up."""
    repeat = rows.values.get("repeat")
    if repeat is None or np.isnan(repeat).any():
        return
    site = _site_of_row(rows)
    order = np.lexsort((repeat, site))
    again = (np.diff(site[order]) == 0) & (np.diff(repeat[order]) == 0.0)
    for position in np.flatnonzero(again):
        index, earlier = order[position + 1], order[position]
        row = int(rows.number[index])
        faults.add(
            f"Row {row}, column repeat: repeat {repeat[index]:g} of {_site_in_words(rows, index)} stands already in "
            f"row {rows.number[earlier]}; count repeats on, or delete the copied row.",
            code="repeat.twice",
            row=row,
            field="repeat",
        )


# ----------------------------------------------------------------------------------------------------------------------


def _wafer_of_row(rows: Rows) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
    return np.repeat(np.arange(len(rows.wafers)), np.diff(rows.bounds))


def _site_of_row(rows: Rows) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Index of each row's site among the sites of all wafers."""
    return rows.site + rows.site_bounds[_wafer_of_row(rows)]


def _site_in_words(rows: Rows, index: np.intp) -> str:
    wafer = rows.wafers[int(np.searchsorted(rows.bounds, index, side="right")) - 1]
    site = rows.labels[rows.site_label[_site_of_row(rows)[index]]]
    return f"site {site!r} of wafer {wafer!r}"
