"""Rows of a readings file, gathered into arrays and checked against each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.formats.delimited import Block
from lapwright.formats.faults import FaultList
from lapwright.formats.readings_cells import CellReader
from lapwright.formats.readings_header import Column
from lapwright.formats.readings_once import Once, OnceReader
from lapwright.formats.readings_quick import Columns
from lapwright.units import Unit

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """All rows of a file, sorted by wafer and otherwise in file order; numbers in the file's units.

    `site` counts the sites of each wafer from 0 in the order met. `bounds` cuts the rows into wafers. The sites of all
    wafers, one after another, have `site_label`, `site_row` (where first met) and are cut by `site_bounds`.
    """

    wafers: tuple[str, ...]
    labels: tuple[str, ...]
    units: dict[str, Unit]
    number: Ints
    site: Ints
    values: dict[str, Floats]
    texts: Sequence[str]
    once: tuple[Once, ...]
    bounds: Ints
    site_label: Ints
    site_row: Ints
    site_bounds: Ints


class Names:
    """Numbers for names in the order met; blanks around a name do not count."""

    def __init__(self) -> None:
        self.known: dict[str, int] = {}
        self._spelt: dict[str, int] = {}

    def codes(self, texts: Sequence[str]) -> Ints:
        """Each name's number."""
        spelt = self._spelt
        for text in dict.fromkeys(texts):
            if text not in spelt:
                spelt[text] = self.known.setdefault(text.strip(), len(self.known))
        return np.fromiter(map(spelt.__getitem__, texts), dtype=np.int64, count=len(texts))


class RowsReader:
    """Takes blocks of lines and gives `Rows` at the end. Faults go to the list it was given."""

    def __init__(
        self, found: dict[str, Column], *, width: int, separator: str, faults: FaultList, keep_texts: bool
    ) -> None:
        self.found = found
        self.faults = faults
        self.keep_texts = keep_texts
        self.n_rows = 0
        self._cells = CellReader(found, width=width, separator=separator, faults=faults)
        self._wafers, self._labels = Names(), Names()
        self._once = OnceReader(found, faults)
        self._parts: dict[str, list[NDArray[np.generic]]] = {}
        self._texts: list[str] = []

    def take(self, block: Block) -> None:
        """Read one block."""
        read = self._cells.columns(block, keep_texts=self.keep_texts)
        if not len(read.number):
            return
        self.n_rows += len(read.number)
        wafer, site = self._wafers.codes(read.texts["wafer"]), self._labels.codes(read.texts["site"])
        for name, names in (("wafer", self._wafers), ("site", self._labels)):
            if "" in names.known:
                self._report_unnamed(name, read)
        self._check_ranges(read)
        self._once.take(read, wafer, list(self._wafers.known))
        parts = {"number": read.number, "wafer": wafer, "label": site, **read.values}
        for name, values in parts.items():
            self._parts.setdefault(name, []).append(values)
        if self.keep_texts:
            self._texts.extend(read.texts["thickness"])

    def finish(self) -> Rows:
        """All rows, after the checks that need all of them."""
        columns = {name: np.concatenate(self._parts.pop(name)) for name in tuple(self._parts)}
        texts = self._texts
        if (np.diff(columns["wafer"]) < 0).any():
            order = np.argsort(columns["wafer"], kind="stable")
            columns = {name: values[order] for name, values in columns.items()}
            texts = [texts[index] for index in order.tolist()] if texts else []
        wafer, label, number = (columns.pop(name) for name in ("wafer", "label", "number"))
        for name in (*self._wafers.known, *self._labels.known):
            if not name.isprintable():
                self.faults.add(
                    f"The name {name!r} holds characters that cannot be printed; use letters, digits and signs.",
                    code="cell.unprintable",
                )
        labels = tuple(self._labels.known)
        pairs, first, inverse = np.unique(wafer * len(labels) + label, return_index=True, return_inverse=True)
        by_first = np.lexsort((first, pairs // len(labels)))
        rank = np.empty_like(by_first)
        rank[by_first] = np.arange(len(by_first))
        edges = np.arange(len(self._wafers.known) + 1)
        site_bounds = np.searchsorted(pairs // len(labels), edges)
        return Rows(
            wafers=tuple(self._wafers.known),
            labels=labels,
            units={name: column.unit for name, column in self.found.items() if column.unit is not None},
            number=number,
            site=rank[inverse] - site_bounds[wafer],
            values=columns,
            texts=texts,
            once=tuple(self._once.found),
            bounds=np.searchsorted(wafer, edges),
            site_label=pairs[by_first] % len(labels),
            site_row=first[by_first],
            site_bounds=site_bounds,
        )

    # ------------------------------------------------------------------------------------------------------------------

    def _report_unnamed(self, name: str, read: Columns) -> None:
        for row, text in zip(read.number.tolist(), read.texts[name], strict=True):
            if not text.strip():
                self.faults.add(
                    f"Row {row}, column {name}: the cell is empty; every row names its {name}.",
                    code="cell.empty",
                    row=row,
                    field=name,
                )

    def _check_ranges(self, read: Columns) -> None:
        thickness = read.values["thickness"]
        if (thickness <= 0.0).any():
            self._report("thickness", read, thickness <= 0.0, "a thickness is more than zero. Check sign and zero")
        repeat = read.values.get("repeat")
        if repeat is not None:
            wrong = ~np.isnan(repeat) & ((repeat < 1.0) | (repeat != np.floor(repeat)))
            self._report("repeat", read, wrong, "repeats are counted 1, 2, 3")

    def _report(self, name: str, read: Columns, wrong: NDArray[np.bool_], expected: str) -> None:
        column = self.found[name]
        for index in np.flatnonzero(wrong):
            row, value = int(read.number[index]), read.values[name][index]
            self.faults.add(
                f"Row {row}, column {column.title}: {value:g}{column.printed_unit} found; {expected}.",
                code="cell.out_of_range",
                row=row,
                field=column.title,
                unit=column.symbol,
            )
