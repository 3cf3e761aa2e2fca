"""Profiles as text: a column of places and one of heights, each with its unit in the header (`x_mm,z_nm`).

Places must lie at even steps, up or down; a place left out is a height that was not measured. The note
`# spacing_mm: 0.0005` may give the step more exactly than the places do.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import FileFormatError
from lapwright.formats.file_bytes import MOST_POINTS
from lapwright.formats.number_text import exact_text
from lapwright.formats.surface_checks import checked_profile
from lapwright.formats.surface_text import TextTable, column_unit, exact_texts, noted_length, number_columns, scaled
from lapwright.model.surface import HeightProfile
from lapwright.units import find_unit

_UNEVEN = 0.2  # largest departure from even steps, in steps: room for places rounded by the program that saved them
_SAME_PLACE = 1e-8  # of the whole length: nearer than that, two places are one
_MISSING_ALLOWED = 20  # times as many places as rows: beyond it the steps are not understood


def is_profile(table: TextTable) -> bool:
    """Whether the header is that of a profile."""
    return [title.partition("_")[0] for title in table.header] in (["x", "z"], ["x", "height"])


def profile_from_table(table: TextTable) -> HeightProfile:
    """The profile in a text file; `BadInput` with all faulty cells, `FileFormatError` for uneven places."""
    units = [column_unit(title, table.name) for title in table.header]
    numbers = number_columns(table, (0, 1))
    x, z = scaled(numbers[:, 0], units[0]), scaled(numbers[:, 1], units[1])
    places, step = even_places(x, name=table.name, axis="x", noted=noted_length(table, "spacing"))
    if len(np.unique(places)) != places.size:
        raise FileFormatError(f"{table.name} gives two heights for one place. Keep one of them.")
    height = np.full(int(places.max()) + 1, math.nan)
    height[places] = z
    return checked_profile(table.name, height, spacing=step)


def profile_text(profile: HeightProfile, *, place_unit: str = "mm", height_unit: str = "nm") -> str:
    """A profile as text; with both units "m" every number reads back bit for bit."""
    along, up = find_unit(place_unit, "length"), find_unit(height_unit, "length")
    places = exact_texts(np.arange(profile.height.size, dtype=np.float64) * profile.spacing, along)
    rows = [f"{place},{height}" for place, height in zip(places, exact_texts(profile.height, up), strict=True)]
    head = (
        f"# spacing_{along.field}: {exact_text(profile.spacing, along)}",
        f"# points: {profile.height.size}",
        f"x_{along.field},z_{up.field}",
    )
    return "\n".join([*head, *rows, ""])


def even_places(
    values: NDArray[np.float64], *, name: str, axis: str, noted: float | None = None
) -> tuple[NDArray[np.intp], float]:
    """The number of each place along an axis, from the smallest, and the step [m]; refuses uneven places."""
    distinct = np.unique(values)
    if distinct.size < 2:
        raise FileFormatError(f"{name} has one place along {axis}; two are needed at least. Save the whole surface.")
    span = float(distinct[-1] - distinct[0])
    gaps = np.diff(distinct)
    step = noted if noted is not None else _smallest_step(gaps[gaps > _SAME_PLACE * span])
    if not (math.isfinite(step) and 0.0 < step <= span * (1.0 + _UNEVEN)):
        raise FileFormatError(
            f"{name}: the step along {axis} is {step:g} m and does not fit its places. Mend the note."
        )
    steps = round(span / step)
    if steps > max(MOST_POINTS, 1) or steps > _MISSING_ALLOWED * distinct.size:
        raise _uneven(name, axis)
    if noted is None:
        step = span / steps
    at = (values - distinct[0]) / step
    places = np.rint(at)
    if float(np.abs(at - places).max()) > _UNEVEN:
        raise _uneven(name, axis)
    return places.astype(np.intp), step


# ----------------------------------------------------------------------------------------------------------------------


def _smallest_step(gaps: NDArray[np.float64]) -> float:
    """The step that rounded places show: the mean of the gaps that are about the smallest."""
    smallest = float(gaps.min())
    return float(gaps[gaps < 1.5 * smallest].mean()) if smallest > 0.5 * float(np.median(gaps)) else smallest


def _uneven(name: str, axis: str) -> FileFormatError:
    return FileFormatError(
        f"{name}: places along {axis} are not at even steps. Save the surface on even steps; leave the heights empty "
        "where nothing was measured."
    )
