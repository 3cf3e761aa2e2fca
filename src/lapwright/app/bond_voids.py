"""Use case: the voids of a bond, from a photograph taken through the carrier and kept with what was found in it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from lapwright import __version__
from lapwright.app.documents import store_document
from lapwright.errors import Conflict, LapwrightError
from lapwright.model.readings import Signature
from lapwright.model.story import WaferStory
from lapwright.model.surface_record import BondPhoto, RecordedSurface, SurfaceKind, SurfaceRequest, VoidMark

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from lapwright.metrology.bond_voids import VoidMap
    from lapwright.metrology.photo_places import PhotoPlace
    from lapwright.process.void_dimples import VoidVerdict

KIND: SurfaceKind = "voids"
FINE_PIXEL = 0.1e-3  # m; finer pictures are taken together to about this
FULL_SCALES = (255.0, 65535.0)  # of pictures with 8 and with 16 bits
MOST_RIM = 60  # corners kept of a rim
USUAL_PRESSURE = 10e3  # Pa, where the plan names none (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class BondVoids:
    """A photograph of a bond with what was found in it, and what that means for the wafer. Lengths in m."""

    recorded: RecordedSurface
    photo: BondPhoto
    verdict: VoidVerdict
    pressure: float
    thickness: float

    @property
    def voids(self) -> tuple[VoidMark, ...]:
        """The voids, the longest first."""
        return self.photo.voids

    @property
    def share(self) -> float:
        """Area of the voids as a share of the face looked at."""
        area, face = self.recorded.numbers["void_area_m2"], self.recorded.numbers["face_area_m2"]
        return (area or 0.0) / (face or 1.0)


def read_bond_photo(content: bytes, asked: BondPhoto, *, name: str) -> tuple[BondPhoto, VoidMap]:
    """The voids in a photograph: `asked` says how it was taken; its place is found where it is None.

    Raises `FileFormatError` for a file that is no picture, and as `bond_voids`.
    """
    from lapwright.formats.images import picture_from_bytes
    from lapwright.metrology.bond_voids import bond_voids
    from lapwright.metrology.photo_places import PhotoPlace, wafer_in_photo

    image = np.asarray(picture_from_bytes(content, name=name, channel=asked.channel).intensity, dtype=np.float64)
    turned = np.rot90(image, asked.quarter_turns)
    if asked.column is None or asked.row is None or asked.pixel is None:
        place = wafer_in_photo(turned, outline=asked.outline, from_behind=asked.from_behind)
    else:
        place = PhotoPlace(column=asked.column, row=asked.row, pixel=asked.pixel, from_behind=asked.from_behind)
    coarse, at = _coarser(turned, place)
    found = bond_voids(
        coarse,
        at,
        outline=asked.outline,
        edge_exclusion=asked.edge_exclusion,
        look=asked.look,
        full_scale=next((full for full in FULL_SCALES if image.max() <= full), np.inf),
    )
    marks = tuple(
        VoidMark(
            x=one.x, y=one.y, area=one.area, longest=one.longest, edge_distance=one.edge_distance,
            rim=tuple((float(x), float(y)) for x, y in one.rim[:: max(1, len(one.rim) // MOST_RIM)]),
        )
        for one in found.voids
    )  # fmt: skip
    return replace(asked, column=place.column, row=place.row, pixel=place.pixel, voids=marks), found


def photo_numbers(found: VoidMap) -> dict[str, float | None]:
    """The numbers of a photograph, in SI."""
    return {
        "voids": float(len(found.voids)),
        "longest_m": found.longest,
        "void_area_m2": found.void_area,
        "face_area_m2": found.face_area,
        "least_contrast": found.least_contrast,
    }


def record_bond_photo(
    wafer_id: str, name: str, content: bytes, asked: BondPhoto, *, by: str, reason: str, at: datetime
) -> RecordedSurface:
    """Record a photograph of a wafer's bond and the voids in it. A picture that cannot be judged is not recorded.

    Raises `Conflict` for a wafer that was never bonded, and as `read_bond_photo`.
    """
    from lapwright.records import queries, writer
    from lapwright.records.writer.surfaces import NewSurface

    wafer = queries.wafer(wafer_id)
    if wafer.state in ("received", "measured_in"):
        raise Conflict(f"Wafer {wafer_id} has not been bonded; there is no bond to photograph. Bond it first.")
    photo, found = read_bond_photo(content, asked, name=name)
    with writer.transaction():
        kept = store_document(
            wafer.order_id, name, content, kind="bond_photo", wafer_id=wafer_id, by=by, reason=reason, at=at
        )
        new = NewSurface(
            kind=KIND,
            document_ids=(kept.document_id,),
            settings=photo,
            numbers=photo_numbers(found),
            sign_ambiguous=False,
            not_judged="Voids are judged on Bond line.",
            software_version=__version__,
        )
        request = SurfaceRequest(wafer_id=wafer_id, moment="stack", files=())
        return writer.add_surface(request, new, Signature(by=by, at=at, reason=reason))


def voids_of(story: WaferStory, *, target_thickness: float, ttv_limit: float | None) -> tuple[BondVoids, ...]:
    """The photographs of a wafer's bonds, the latest first, each judged for the wafer as it is to be."""
    taken = [one for one in story.surfaces if isinstance(one.settings, BondPhoto)]
    return tuple(_judged(one, story, target_thickness, ttv_limit) for one in reversed(taken))


# ----------------------------------------------------------------------------------------------------------------------


def _coarser(image: NDArray[np.float64], place: PhotoPlace) -> tuple[NDArray[np.float64], PhotoPlace]:
    """Blocks of pixels taken together, as long as a block stays below `FINE_PIXEL`."""
    block = int(FINE_PIXEL // place.pixel) if place.pixel > 0.0 else 1
    if block < 2:
        return image, place
    ny, nx = (side // block for side in image.shape)
    coarse = image[: ny * block, : nx * block].reshape(ny, block, nx, block).mean(axis=(1, 3))
    middle = (block - 1) / 2.0
    return coarse, replace(
        place, column=(place.column - middle) / block, row=(place.row - middle) / block, pixel=place.pixel * block
    )


def _judged(
    recorded: RecordedSurface, story: WaferStory, target_thickness: float, ttv_limit: float | None
) -> BondVoids:
    from lapwright.process.void_dimples import void_verdict

    photo = recorded.settings
    assert isinstance(photo, BondPhoto)
    pressure = max((one.stage.pressure or 0.0 for one in story.stages), default=0.0) or USUAL_PRESSURE
    longest = max((one.longest for one in photo.voids), default=0.0)
    dimple = _dimple(story.wafer.wafer.material, longest, target_thickness, pressure)
    return BondVoids(
        recorded=recorded,
        photo=photo,
        verdict=void_verdict([one.longest for one in photo.voids], dimple=dimple, ttv_limit=ttv_limit),
        pressure=pressure,
        thickness=target_thickness,
    )


def _dimple(material_id: str, longest: float, thickness: float, pressure: float) -> float | None:
    """None where the library does not know how stiff the material is, or nothing is there."""
    from lapwright.library import load
    from lapwright.process.void_dimples import dimple_height

    try:
        material = load().material(material_id)
        modulus, ratio = material.value("youngs_modulus"), material.value("poisson_ratio")
        if modulus is None or ratio is None or longest <= 0.0:
            return None
        return dimple_height(
            thickness=thickness, diameter=longest, pressure=pressure, youngs_modulus=modulus, poisson_ratio=ratio
        )
    except LapwrightError:
        return None
