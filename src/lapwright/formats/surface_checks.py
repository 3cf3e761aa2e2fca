"""What every reader of surfaces asks of what it read, and words for what a format has no field for."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import FileFormatError, OutOfValidRange
from lapwright.model.surface import HeightMap, HeightProfile, Quantity, Surface

#: Stands in the free text of a file whose map may be upside down.
SIGN_UNKNOWN = "SignAmbiguous=yes"
#: Stands there when the numbers are thicknesses.
IS_THICKNESS = "Quantity=thickness"


def checked_map(
    name: str, height: NDArray[np.float64], *, pixel_size: tuple[float, float], remarks: str = ""
) -> HeightMap:
    """A map as a file gives it, row 0 at the top; what contradicts a map is a fault of the file."""
    quantity: Quantity = "thickness" if IS_THICKNESS in remarks.replace(" ", "") else "height"
    try:
        return HeightMap(
            height=np.ascontiguousarray(height, dtype=np.float64),
            pixel_size=pixel_size,
            quantity=quantity,
            sign_ambiguous=SIGN_UNKNOWN in remarks.replace(" ", ""),
        )
    except OutOfValidRange as fault:
        raise FileFormatError(f"{name}: {fault.sentence} Save it again.") from fault


def checked_profile(name: str, height: NDArray[np.float64], *, spacing: float) -> HeightProfile:
    """A profile as a file gives it."""
    try:
        return HeightProfile(height=np.ascontiguousarray(height, dtype=np.float64), spacing=spacing)
    except OutOfValidRange as fault:
        raise FileFormatError(f"{name}: {fault.sentence} Save it again.") from fault


def remarks_of(surface: Surface) -> tuple[str, ...]:
    """The remarks that a file of this surface must carry."""
    if isinstance(surface, HeightProfile):
        return ()
    told = (SIGN_UNKNOWN if surface.sign_ambiguous else "", IS_THICKNESS if surface.quantity == "thickness" else "")
    return tuple(one for one in told if one)
