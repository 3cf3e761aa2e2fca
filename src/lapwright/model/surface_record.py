"""What is kept of a measured face: the files as received, how they were read, what came out. Lengths in m, angles rad.

The map or the filtered profile is not kept: the files and the settings give it again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from lapwright.model.readings import Moment, Signature
from lapwright.model.wafer import Outline

SurfaceKind = Literal["fringes", "profile", "voids"]
VoidLook = Literal["lighter", "darker", "either"]
FringeMethod = Literal["auto", "carrier", "steps", "closed"]
PressedMotion = Literal["outward", "inward"]
#: A number of a result; None where it could not be determined.
Numbers = Mapping[str, float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleMask:
    """The sample drawn by hand in the picture, in pixels (x to the right, y down): a circle, or corners in turn.

    A circle when `radius` is given, a polygon when `corners` are.
    """

    centre: tuple[float, float] | None = None
    radius: float | None = None
    corners: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FringeSettings:
    """How pictures of fringes are read.

    Either `fringe_height`, or `wavelength` with `incidence` from the surface normal. `pixel_ratio` is the height of a
    pixel over its width, on the sample; None takes it from the outline. `step` is the phase between pictures, None to
    be found. Directions are counter-clockwise from the picture's x axis with y up; all that could tell the sign is
    None while it is not known. `scale_reach` is the relative limit (±) of the height per fringe or the wavelength,
    `incidence_reach` that of the angle, `reference_flatness` the largest departure (±) of the reference face.
    """

    outline: Outline
    method: FringeMethod = "auto"
    edge_exclusion: float = 0.0
    fringe_height: float | None = None
    wavelength: float | None = None
    incidence: float = 0.0
    scale_reach: float | None = None
    incidence_reach: float | None = None
    reference_flatness: float | None = None
    pixel_ratio: float | None = None
    mask: SampleMask | None = None
    tilt_opens_toward: float | None = None
    pressed_fringes_toward: float | None = None
    pressed_fringes_move: PressedMotion | None = None
    step: float | None = None
    steps_open_gap: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileSettings:
    """How a profile is read: cutoff (None: by the profile's own Ra), filter, and what is known of the instrument.

    `noise` is the Rq of the instrument on a reference flat; `height_uncertainty` the relative standard uncertainty of
    its height scale. `way` says how the face was made, for an estimate of damage.
    """

    cutoff: float | None = None
    filter_kind: Literal["gaussian", "robust_gaussian", "spline"] = "gaussian"
    instrument_kind: Literal["stylus", "optical", "not_stated"] = "not_stated"
    tip_radius: float | None = None
    noise: float | None = None
    height_uncertainty: float | None = None
    way: Literal["lap_loose", "lap_bound", "grind"] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class VoidMark:
    """A void in a photograph of a bond, in the wafer frame: middle, area, greatest width, way to the edge, rim."""

    x: float
    y: float
    area: float
    longest: float
    edge_distance: float
    rim: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BondPhoto:
    """How a photograph of a bond is read, and the voids found in it, the longest first.

    `quarter_turns` counter-clockwise bring the wafer's mark to the bottom; then its centre lies at `column`, `row`
    [pixels] and a pixel measures `pixel`; None is found from the picture. `from_behind` is true when the camera looked
    through the carrier, so that left and right are exchanged. `channel` picks a colour, None the one that varies most.
    """

    outline: Outline
    from_behind: bool = True
    quarter_turns: int = 0
    look: VoidLook = "either"
    edge_exclusion: float = 0.3e-3
    channel: Literal["grey", "red", "green", "blue"] | None = None
    column: float | None = None
    row: float | None = None
    pixel: float | None = None
    voids: tuple[VoidMark, ...] = ()


SurfaceSettings = FringeSettings | ProfileSettings | BondPhoto


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceRequest:
    """A measured face to be recorded: of which wafer, when in the job, with what, and the files with their names.

    `instrument` names what took it in words; `gauge_id` names it when it stands on the shelf with its calibration.
    """

    wafer_id: str
    moment: Moment
    files: tuple[tuple[str, bytes], ...]
    stage_id: int | None = None
    gauge_id: str | None = None
    instrument: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedSurface:
    """A measured face as recorded; it is never changed.

    `document_ids` are the files in the order given; `sign_ambiguous` is true when the map may be upside down;
    `finding_ids` are the findings that rest on it, and `not_judged` says why there is none.
    """

    surface_id: int
    kind: SurfaceKind
    wafer_id: str
    stage_id: int | None
    moment: Moment
    gauge_id: str | None
    instrument: str
    document_ids: tuple[int, ...]
    settings: SurfaceSettings
    numbers: Numbers
    sign_ambiguous: bool
    finding_ids: tuple[int, ...]
    not_judged: str
    software_version: str
    signature: Signature
