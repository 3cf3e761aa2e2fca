"""Flatness and finish of the finished wafers: pictures and traces that the shop makes, read and kept by the program."""

from __future__ import annotations

import io
import math

import numpy as np

from lapwright.app import surface_records
from lapwright.errors import CannotAnswer
from lapwright.formats.profile_csv import profile_text
from lapwright.model.surface import HeightProfile
from lapwright.model.surface_record import FringeSettings, ProfileSettings, SurfaceRequest
from lapwright.sim import cast
from lapwright.sim.fringe_images import Camera, Sample, fringe_picture, smooth_form
from lapwright.sim.profiles import Finish, traced_profile
from lapwright.sim.scenario.day import Day
from lapwright.sim.shop import stream

WAVELENGTH = 632.8e-9
FRINGES = FringeSettings(
    outline=cast.ORDER.outline,
    edge_exclusion=cast.ORDER.edge_exclusion,
    method="carrier",
    wavelength=WAVELENGTH,
    scale_reach=1e-5,
    reference_flatness=30e-9,
    tilt_opens_toward=0.0,
)
#: Root mean square of white noise after the short cutoff of 2.5 µm at points 0.5 µm apart is 0.55 of it.
TRACE_NOISE, NOISE_LEFT = 0.09e-9, 0.05e-9
STYLUS = ProfileSettings(instrument_kind="stylus", tip_radius=2e-6, noise=NOISE_LEFT, height_uncertainty=0.02)
SPACING, POINTS = 0.5e-6, 2400
SIDE = 400
LIT, DARK = Camera(), Camera(mean=0.02, contrast=0.01, noise=80.0)


def trace_finish(day: Day, wafer_id: str) -> None:
    """One trace over the polished face, kept with the wafer: the program chooses the cutoff."""
    rng = stream(day.shop.seed, "roughness", wafer_id)
    finish = Finish(roughness=0.78e-9 * (1.0 + 0.06 * float(rng.standard_normal())), noise=TRACE_NOISE)
    heights = traced_profile(rng, finish, points=POINTS, spacing=SPACING)
    content = profile_text(HeightProfile(height=heights, spacing=SPACING)).encode()
    request = SurfaceRequest(
        wafer_id=wafer_id, moment="final", files=((f"{wafer_id} finish.csv", content),), instrument=cast.PROFILER
    )
    surface_records.record_profile(
        request, STYLUS, by=cast.TECHNICIAN.name, reason="one trace", at=day.wait(minutes=10.0)
    )


def photograph_fringes(day: Day, wafer_id: str) -> None:
    """The face between fringes: a first picture too dark to be read, a second with the lamp turned up."""
    rng = stream(day.shop.seed, "fringes", wafer_id)
    sample = Sample(flat=_flat_share())
    form = smooth_form(rng, (SIDE, SIDE), departure=0.45e-6, sample=sample)
    for camera in (DARK, LIT):
        picture = fringe_picture(
            rng, form, fringe_height=WAVELENGTH / 2.0, fringes=26.0, azimuth=0.0, sample=sample, camera=camera
        )
        content = photograph(picture.image)
        request = SurfaceRequest(
            wafer_id=wafer_id,
            moment="final",
            files=((f"{wafer_id} fringes.png", content),),
            instrument="interferometer, straight on",
        )
        at = day.wait(minutes=4.0)
        try:
            surface_records.record_fringes(request, FRINGES, by=cast.TECHNICIAN.name, reason="one picture", at=at)
        except CannotAnswer as error:
            day.catch("poor picture", wafer_id, error.sentence)


def photograph(image: np.ndarray) -> bytes:
    """A picture of brightness 0 to 1 as the file of a camera."""
    from PIL import Image

    held = io.BytesIO()
    Image.fromarray(np.clip(np.rint(255.0 * image), 0, 255).astype(np.uint8)).save(held, "PNG")
    return held.getvalue()


# ----------------------------------------------------------------------------------------------------------------------


def _flat_share() -> float:
    """How far the flat cuts into the radius, as a share of it."""
    radius, half = 0.5 * cast.ORDER.outline.diameter, 0.5 * cast.ORDER.outline.flat_length  # type: ignore[union-attr]
    return (radius - math.sqrt(radius**2 - half**2)) / radius
