"""Two faces of one piece: thickness variation and median surface from a map of each.

Maps combine only in one frame (the back mirrored), on the same places, held in the same way, each with its sign known.
Maps of one face at a time, such as fringe maps, give thickness variation up to a constant and a tilt: mean thickness,
wedge and parallelism come only from a gauge or a set-up that sees both faces at once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import Fault, MapsDoNotCombine
from lapwright.metrology.flatness import plane_deviation
from lapwright.metrology.shape_grid import grid_axes
from lapwright.model.readings import HoldState
from lapwright.model.wafer import Frame

Array = NDArray[np.float64]

_QUARTER = 0.5 * math.pi
_LARGEST_LONELY = 0.02  # share of the places of one face that the other may lack; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceMap:
    """Height map of one face, as it was taken.

    Attributes
    ----------
    height : float array, shape (ny, nx) [m]
        Heights out of this face; NaN = not measured. Row 0 is the top, the wafer in the middle of the array.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.
    frame : Frame
        Seen from the worked or from the bonded face, and turned by how much: quarter turns only.
    hold : str or None
        "free" or "clamped"; None when not stated.
    sign_ambiguous : bool
        True while nothing has told which way is up.
    knows_level : bool
        True when the map's level and tilt are those of the piece and not of the set-up.
    """

    height: Array
    pixel_size: tuple[float, float]
    frame: Frame
    hold: HoldState | None
    sign_ambiguous: bool
    knows_level: bool = False

    def __post_init__(self) -> None:
        self.height.setflags(write=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoFaces:
    """What two faces give together, in the wafer frame.

    Attributes
    ----------
    thickness_variation : float array, shape (ny, nx) [m]
        Front and back heights added: thickness up to a constant, and up to a tilt unless `has_tilt`; NaN where one face
        was not measured. Its mean is nought.
    median_surface : float array, shape (ny, nx) [m]
        Half the front less half the back, out of the worked face; up to a constant and a tilt likewise.
    range : float [m]
        Largest less smallest of `thickness_variation`, with its plane taken out unless `has_tilt`.
    has_tilt : bool
        Whether wedge can be read from the maps: only when both know their level.
    pixel_size : tuple of two floats [m]
        Height and width of a pixel.
    hold : str
        "free" or "clamped".
    limits : str
        What the maps cannot say, in words.
    """

    thickness_variation: Array
    median_surface: Array
    range: float
    has_tilt: bool
    pixel_size: tuple[float, float]
    hold: HoldState
    limits: str

    def __post_init__(self) -> None:
        self.thickness_variation.setflags(write=False)
        self.median_surface.setflags(write=False)


def in_wafer_frame(face: FaceMap) -> Array:
    """The heights of a face with the map brought into the wafer frame, looking at the worked face.

    Parameters
    ----------
    face : FaceMap
        As taken.

    Returns
    -------
    float array [m]
        Mirrored in x when seen from the bonded face, then turned counter-clockwise by the frame's turn.

    Raises
    ------
    MapsDoNotCombine
        The turn is not a quarter turn or several.

    Examples
    --------
    >>> below = FaceMap(height=np.array([[1.0, 2.0]]), pixel_size=(1.0, 1.0), frame=Frame(seen_from="bonded"),
    ...                 hold="free", sign_ambiguous=False)
    >>> in_wafer_frame(below).tolist()
    [[2.0, 1.0]]
    """
    quarters = face.frame.turn / _QUARTER
    if abs(quarters - round(quarters)) > 1e-6:
        raise MapsDoNotCombine(
            f"The map is turned by {math.degrees(face.frame.turn):.4g}°; maps combine in quarter turns only. "
            "Turn the piece before the picture is taken."
        )
    height = face.height[:, ::-1] if face.frame.seen_from == "bonded" else face.height
    return np.rot90(height, round(quarters))


def combined_faces(front: FaceMap, back: FaceMap) -> TwoFaces:
    """Thickness variation and median surface from maps of both faces.

    Parameters
    ----------
    front : FaceMap
        Of the worked face.
    back : FaceMap
        Of the other face, heights out of that face.

    Returns
    -------
    TwoFaces

    Raises
    ------
    MapsDoNotCombine
        Other size or pixel, other places, other way of holding or not stated, a sign not known, or a turn that is not a
        quarter turn; all reasons are listed.

    Notes
    -----
    t = t₀ + front + back; median = (front − back) / 2. Where either face was measured alone nothing is given.

    Examples
    --------
    >>> bump = np.zeros((5, 5)); bump[2, 2] = 1e-6
    >>> front = FaceMap(height=bump, pixel_size=(1e-3, 1e-3), frame=Frame(), hold="free", sign_ambiguous=False)
    >>> back = FaceMap(height=-bump, pixel_size=(1e-3, 1e-3), frame=Frame(seen_from="bonded"), hold="free",
    ...                sign_ambiguous=False)
    >>> round(combined_faces(front, back).range, 12)
    0.0
    """
    faults = _faults(front, back)
    if faults:
        raise MapsDoNotCombine(" ".join(fault.sentence for fault in faults), faults=faults)
    top, bottom = in_wafer_frame(front), in_wafer_frame(back)
    _need_same_places(top, bottom)
    pixel_size = _turned_pixel(front)
    variation = top + bottom
    variation = variation - np.nanmean(variation)
    has_tilt = front.knows_level and back.knows_level
    told = variation if has_tilt else _without_plane(variation, pixel_size)
    assert front.hold is not None
    return TwoFaces(
        thickness_variation=variation,
        median_surface=0.5 * (top - bottom),
        range=float(np.nanmax(told) - np.nanmin(told)),
        has_tilt=has_tilt,
        pixel_size=pixel_size,
        hold=front.hold,
        limits=_told_limits(has_tilt=has_tilt),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _faults(front: FaceMap, back: FaceMap) -> list[Fault]:
    found = []
    if front.frame.seen_from == back.frame.seen_from:
        found.append(
            f"Both maps are seen from the {front.frame.seen_from} side; one must be the back, seen from the other."
        )
    for name, face in (("front", front), ("back", back)):
        if face.sign_ambiguous:
            found.append(f"The {name} map does not know which way is up; take it again with a known move.")
        if face.hold is None:
            found.append(f"The {name} map does not say whether the piece was free or clamped; state it.")
    if None not in (front.hold, back.hold) and front.hold != back.hold:
        found.append(f"The front was {front.hold} and the back {back.hold}; take both in the same state.")
    if not np.allclose(_turned_pixel(front), _turned_pixel(back), rtol=1e-6, atol=0.0):
        found.append("The pixels of the two maps differ in size in the wafer frame; take both at one magnification.")
    return [Fault(sentence=sentence, code=MapsDoNotCombine.code) for sentence in found]


def _turned_pixel(face: FaceMap) -> tuple[float, float]:
    height, width = face.pixel_size
    return (width, height) if round(face.frame.turn / _QUARTER) % 2 else (height, width)


def _need_same_places(top: Array, bottom: Array) -> None:
    if top.shape != bottom.shape:
        raise MapsDoNotCombine(
            f"The front map has {top.shape[0]} by {top.shape[1]} pixels and the back {bottom.shape[0]} by "
            f"{bottom.shape[1]}, both in the wafer frame; they must be equal. Cut both to the same field."
        )
    either = np.isfinite(top) | np.isfinite(bottom)
    lonely = np.isfinite(top) ^ np.isfinite(bottom)
    share = float(lonely.sum()) / max(1, int(either.sum()))
    if not either.any() or share > _LARGEST_LONELY:
        raise MapsDoNotCombine(
            f"{100.0 * share:.3g} % of the places are measured on one face only (allowed "
            f"{100.0 * _LARGEST_LONELY:g} %). Use one mask for both maps."
        )


def _without_plane(height: Array, pixel_size: tuple[float, float]) -> Array:
    x, y = grid_axes(height.shape, pixel_size=pixel_size)
    known = np.isfinite(height)
    rows, columns = np.nonzero(known)
    level = np.full(height.shape, np.nan)
    level[known] = plane_deviation(x[columns], y[rows], height[known])
    return level


def _told_limits(*, has_tilt: bool) -> str:
    if has_tilt:
        return "Thickness variation up to a constant: the mean thickness comes from a gauge."
    return (
        "Thickness variation up to a constant and a tilt: mean thickness, wedge and parallelism come only from a gauge "
        "or a set-up that sees both faces."
    )
