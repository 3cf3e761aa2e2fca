"""Maps as text, in two forms: a row for each point (`x_mm,y_mm,z_um`), or a grid of heights below notes.

A grid has the notes `# grid: z_um` (what the numbers are, with unit), `# pixel_width_mm`, `# pixel_height_mm` and
`# first_row: top` or `bottom`, and then one line for each row. A column or grid called `thickness` makes a map of
thickness. Points left out, and empty cells, were not measured.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import FileFormatError
from lapwright.formats.faults import FaultList
from lapwright.formats.file_bytes import need_points
from lapwright.formats.number_text import exact_text
from lapwright.formats.profile_csv import even_places
from lapwright.formats.surface_checks import IS_THICKNESS, checked_map, remarks_of
from lapwright.formats.surface_text import (
    TextTable,
    column_unit,
    exact_texts,
    need_noted_count,
    noted_length,
    number_columns,
    scaled,
)
from lapwright.model.surface import HeightMap
from lapwright.units import Unit, find_unit

_LEAST_FILLED = 0.2  # share of the grid that must have a row: beyond it the steps are not understood


def is_list(table: TextTable) -> bool:
    """Whether the header is that of a map with a row for each point."""
    names = {title.partition("_")[0] for title in table.header}
    return {"x", "y"} < names and bool(names & {"z", "height", "thickness"})


def is_grid(table: TextTable) -> bool:
    """Whether the notes announce a grid."""
    return "grid" in table.notes


def map_from_table(table: TextTable) -> HeightMap:
    """The map in a text file of either form.

    Raises `BadInput` with all faulty cells, `FileFormatError` for uneven places or notes that are missing.
    """
    return _from_grid(table) if is_grid(table) else _from_list(table)


def map_list_text(surface: HeightMap, *, place_unit: str = "mm", height_unit: str = "µm") -> str:
    """A map as text with a row for each point that was measured, places from the lower left pixel."""
    along, up = find_unit(place_unit, "length"), find_unit(height_unit, "length")
    word = "thickness" if surface.quantity == "thickness" else "z"
    rows, columns = np.indices(surface.height.shape)
    across = exact_texts((columns * surface.pixel_size[1]).ravel(), along)
    upwards = exact_texts(((len(surface.height) - 1 - rows) * surface.pixel_size[0]).ravel(), along)
    heights = exact_texts(surface.height, up)
    written = [f"{x},{y},{z}" for x, y, z in zip(across, upwards, heights, strict=True)]
    head = f"x_{along.field},y_{along.field},{word}_{up.field}"
    return "\n".join([*_size_notes(surface, along), f"# points: {len(written)}", head, *written, ""])


def map_grid_text(surface: HeightMap, *, place_unit: str = "mm", height_unit: str = "µm") -> str:
    """A map as a grid; with both units "m" every number reads back bit for bit."""
    along, up = find_unit(place_unit, "length"), find_unit(height_unit, "length")
    word = "thickness" if surface.quantity == "thickness" else "z"
    head = [
        f"# grid: {word}_{up.field}",
        *_size_notes(surface, along),
        f"# rows: {len(surface.height)}",
        "# first_row: top",
    ]
    heights = exact_texts(surface.height, up)
    columns = surface.height.shape[1]
    rows = [",".join(heights[start : start + columns]) for start in range(0, len(heights), columns)]
    if columns == 1:  # an empty line would be no row
        rows = [row or "nan" for row in rows]
    return "\n".join([*head, *rows, ""])


# ----------------------------------------------------------------------------------------------------------------------


def _size_notes(surface: HeightMap, along: Unit) -> list[str]:
    return [
        f"# pixel_width_{along.field}: {exact_text(surface.pixel_size[1], along)}",
        f"# pixel_height_{along.field}: {exact_text(surface.pixel_size[0], along)}",
        *(f"# {remark}" for remark in remarks_of(surface)),
    ]


def _from_list(table: TextTable) -> HeightMap:
    named = {title.partition("_")[0]: index for index, title in enumerate(table.header)}
    wanted = (named["x"], named["y"], next(named[word] for word in ("thickness", "z", "height") if word in named))
    titles = [table.header[index] for index in wanted]
    units = [column_unit(title, table.name) for title in titles]
    numbers = number_columns(table, wanted)
    x, y, z = (scaled(numbers[:, column], unit) for column, unit in enumerate(units))
    columns, width = even_places(x, name=table.name, axis="x", noted=noted_length(table, "pixel_width"))
    rows, height = even_places(y, name=table.name, axis="y", noted=noted_length(table, "pixel_height"))
    shape = (int(rows.max()) + 1, int(columns.max()) + 1)
    count = need_points(table.name, *shape)
    if numbers.shape[0] < _LEAST_FILLED * count:
        raise FileFormatError(
            f"{table.name} gives {numbers.shape[0]} of the {count} points of its grid; its places are not on a grid. "
            "Save the surface on even steps."
        )
    if len(np.unique(rows * shape[1] + columns)) != rows.size:
        raise FileFormatError(f"{table.name} gives two heights for one place. Keep one of them.")
    grid = np.full(shape, math.nan)
    grid[shape[0] - 1 - rows, columns] = z
    remarks = table.remarks + (IS_THICKNESS if titles[2].startswith("thickness") else "")
    return checked_map(table.name, grid, pixel_size=(height, width), remarks=remarks)


def _from_grid(table: TextTable) -> HeightMap:
    title = table.notes["grid"].lower()
    unit = column_unit(title, table.name)
    sizes = (noted_length(table, "pixel_height"), noted_length(table, "pixel_width"))
    first = table.notes.get("first_row")
    if sizes[0] is None or sizes[1] is None or first not in ("top", "bottom"):
        raise FileFormatError(
            f"{table.name} announces a grid; expected the notes pixel_width_mm, pixel_height_mm and first_row "
            "(top or bottom), too. Add what is missing."
        )
    grid = scaled(_grid_numbers(table), unit)
    remarks = table.remarks + (IS_THICKNESS if title.startswith("thickness") else "")
    return checked_map(
        table.name, grid if first == "top" else grid[::-1], pixel_size=(sizes[0], sizes[1]), remarks=remarks
    )


def _grid_numbers(table: TextTable) -> NDArray[np.float64]:
    """All numbers of a grid, its first line included."""
    faults = FaultList(table.name)
    rows = []
    lines = [table.separator.join(table.header), *table.lines]
    for row, line in enumerate(lines, start=table.first_row - 1):
        if not line.strip() or line.startswith("#"):
            continue
        cells = line.rstrip("\r").split(table.separator)
        if len(cells) != len(table.header):
            sentence = f"Row {row} has {len(cells)} cells; {len(table.header)} are expected. Mend the row."
            faults.add(sentence, code="row.length", row=row)
            continue
        try:
            rows.append([_height(cell) for cell in cells])
        except ValueError:
            sentence = f"Row {row} holds a cell that is no finite number. Mend the row."
            faults.add(sentence, code="cell.not_a_number", row=row)
    faults.settle()
    need_noted_count(table, "rows", len(rows))
    return np.array(rows)


def _height(cell: str) -> float:
    text = cell.strip()
    value = float(text.replace(",", ".")) if text else math.nan
    if math.isinf(value):
        raise ValueError
    return value
