"""Use cases: what the files of a measured face say, read as its settings ask. Nothing here writes.

A map or profile is read from the files each time it is shown, so that what is drawn is what the files hold.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lapwright.app import fringe_maps
from lapwright.errors import BadInput, Fault
from lapwright.formats.images import Picture, picture_from_bytes
from lapwright.metrology.fringes import circle_mask, fringe_height, polygon_mask
from lapwright.metrology.ready_budgets import flatness_budget
from lapwright.metrology.shape import ShapeResult
from lapwright.metrology.uncertainty import Budget, CombinedUncertainty, combined_uncertainty
from lapwright.metrology.zernike import ZernikeFit
from lapwright.model.surface_record import FringeSettings, Numbers, SampleMask

if TYPE_CHECKING:
    from lapwright.metrology.fringes import FringeResult

Files = tuple[tuple[str, bytes], ...]
Mask = NDArray[np.bool_]

MOST_FILES = 24
MOST_BYTES = 50 * 1024 * 1024  # as for every kept file
MOST_AT_HAND = 4 * 1024 * 1024  # bytes of pictures of which what was read is held
MOST_PICTURE_PIXELS = 24_000_000  # of a picture read while somebody waits for the page
#: Standard deviation with which the place of a fringe is known, in fringes: the error allowed each method in the
#: seeded campaign of the fringe analysis, at the rim, where peak and valley mostly lie.
FRINGE_NOISE = {"carrier": 1.0 / 40.0, "closed": 1.0 / 20.0, "steps": 1.0 / 500.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatnessKnown:
    """A flatness with its uncertainty and budget; None while something is not known, which `unsure` says."""

    flatness: CombinedUncertainty | None
    budget: Budget | None
    unsure: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FringeReading:
    """Pictures of fringes read: the map, its form within the edge exclusion, and how well its flatness is known.

    `flatness` and its budget are None while something it needs is not known; `unsure` then says what.
    """

    pictures: tuple[Picture, ...]
    settings: FringeSettings
    fringes: FringeResult
    shape: ShapeResult
    zernike: ZernikeFit | None
    flatness: CombinedUncertainty | None
    flatness_budget: Budget | None
    unsure: str
    notices: tuple[str, ...]

    @property
    def numbers(self) -> Numbers:
        """All numbers in SI, signs left out where the map may be upside down."""
        return _numbers(self)


def read_fringes(files: Files, settings: FringeSettings) -> FringeReading:
    """The map and form that pictures give.

    Raises `FileFormatError` and `BadInput` for files that are no such pictures, `FringesRefused` and its kin for
    pictures that must not become a map. What was read last is at hand when it is asked for again: a face is looked at,
    then recorded, then shown.
    """
    small = sum(len(content) for _name, content in files) <= MOST_AT_HAND
    return (_read_at_hand if small else _read_fringes)(files, settings)


def fringe_pictures(files: Files) -> tuple[Picture, ...]:
    """The pictures in files, all of one channel. Raises `FileFormatError`, `BadInput`."""
    if not 1 <= len(files) <= MOST_FILES:
        sentence = f"{len(files)} pictures came; expected 1 to {MOST_FILES}. Choose the picture, or the steps of a set."
        raise BadInput([Fault(sentence=sentence, field="files")])
    first = picture_from_bytes(files[0][1], name=files[0][0])
    channel = None if first.channel == "grey" else first.channel
    pictures = (first, *(picture_from_bytes(content, name=name, channel=channel) for name, content in files[1:]))
    total = sum(picture.intensity.size for picture in pictures)
    if total > MOST_PICTURE_PIXELS:
        sentence = (
            f"The pictures hold {total / 1e6:.0f} million pixels together; at most {MOST_PICTURE_PIXELS / 1e6:.0f} are "
            "read on a page. Save them smaller; 1000 across the sample are enough."
        )
        raise BadInput([Fault(sentence=sentence, field="files")])
    return pictures


def height_per_fringe(settings: FringeSettings) -> float:
    """Height per fringe [m], given or from wavelength and angle. Raises `BadInput` when neither is there."""
    if settings.fringe_height is not None:
        return settings.fringe_height
    if settings.wavelength is None:
        sentence = "Neither the height per fringe nor the wavelength is given; one is expected. Give one of them."
        raise BadInput([Fault(sentence=sentence, field="fringe_height")])
    return fringe_height(wavelength=settings.wavelength, incidence=settings.incidence)


def flatness_known(
    settings: FringeSettings, *, pv: float, fringe_height: float, method: str, noise: float
) -> FlatnessKnown:
    """How well a peak to valley [m] is known; height per fringe [m] and noise [1] are those of the map."""
    missing = []
    if settings.reference_flatness is None:
        missing.append("how flat the reference face is")
    if settings.scale_reach is None:
        missing.append("how well the height per fringe or the wavelength is known")
    if settings.fringe_height is None and settings.incidence > 0.0 and settings.incidence_reach is None:
        missing.append("how well the angle of incidence is known")
    if missing:
        return FlatnessKnown(flatness=None, budget=None, unsure=f"Not stated: {'; '.join(missing)}.")
    budget = flatness_budget(
        fringe_height=fringe_height,
        fringes=pv / fringe_height,
        fringe_noise=max(FRINGE_NOISE[method], noise * FRINGE_NOISE["steps"]),
        reference_flatness=settings.reference_flatness or 0.0,
        wavelength_reach=settings.scale_reach or 0.0,
        incidence=0.0 if settings.fringe_height is not None else settings.incidence,
        incidence_reach=settings.incidence_reach or 0.0,
    )
    return FlatnessKnown(flatness=combined_uncertainty(budget, value=pv), budget=budget, unsure="")


def drawn_mask(drawn: SampleMask, shape: tuple[int, int]) -> Mask:
    """Pixels inside a circle or polygon drawn in the picture. Raises `BadInput` when it is neither."""
    if drawn.radius is not None and drawn.centre is not None:
        return circle_mask(shape, centre=(drawn.centre[1], drawn.centre[0]), radius=drawn.radius)
    return polygon_mask(shape, corners=np.array([(y, x) for x, y in drawn.corners], dtype=float).reshape(-1, 2))


# ----------------------------------------------------------------------------------------------------------------------


def _read_fringes(files: Files, settings: FringeSettings) -> FringeReading:
    pictures = fringe_pictures(files)
    question = fringe_maps.FringeQuestion(
        fringe_height=height_per_fringe(settings),
        outline=settings.outline,
        pixel_aspect=settings.pixel_ratio,
        method=_method(settings, len(pictures)),
        steps=None if settings.step is None else tuple(settings.step * i for i in range(len(pictures))),
        steps_open_gap=settings.steps_open_gap,
        tilt_opens_toward=settings.tilt_opens_toward,
        pressed_fringes_toward=settings.pressed_fringes_toward,
        pressed_fringes_move=settings.pressed_fringes_move,
        edge_exclusion=settings.edge_exclusion,
    )
    mask = None if settings.mask is None else drawn_mask(settings.mask, pictures[0].intensity.shape)
    measured = fringe_maps.fringes_of_pictures(pictures, question, mask=mask)
    shape = measured.shape
    known = flatness_known(
        settings, pv=shape.pv, fringe_height=measured.fringes.fringe_height, method=measured.fringes.method,
        noise=measured.fringes.noise,
    )  # fmt: skip
    return FringeReading(
        pictures=pictures,
        settings=settings,
        fringes=measured.fringes,
        shape=shape,
        zernike=measured.zernike,
        flatness=known.flatness,
        flatness_budget=known.budget,
        unsure=known.unsure,
        notices=tuple(dict.fromkeys(sentence for _, sentence in measured.warnings)),
    )


_read_at_hand = lru_cache(maxsize=1)(_read_fringes)


def _method(settings: FringeSettings, pictures: int) -> fringe_maps.FringeMethod:
    if pictures == 1 and settings.method == "steps":
        sentence = "One picture came; phase steps need three or more. Choose all pictures of the set at once."
        raise BadInput([Fault(sentence=sentence, field="files")])
    if pictures > 1 and settings.method in ("carrier", "closed"):
        sentence = f"{pictures} pictures came; this way of reading takes one. Choose one, or read them as phase steps."
        raise BadInput([Fault(sentence=sentence, field="files")])
    return "steps" if pictures > 1 else settings.method


def _numbers(reading: FringeReading) -> dict[str, float | None]:
    fringes, shape = reading.fringes, reading.shape
    signed = not fringes.sign_ambiguous
    power = shape.power if signed or shape.power is None else abs(shape.power)
    numbers: dict[str, float | None] = {
        "fringe_height": fringes.fringe_height,
        "pixel_height": fringes.pixel_size[0],
        "pixel_width": fringes.pixel_size[1],
        "n_pixels": float(shape.n_pixels),
        "coverage": fringes.coverage,
        "contrast": fringes.contrast,
        "noise": fringes.noise,
        "pv": shape.pv,
        "pv_expanded_uncertainty": None if reading.flatness is None else reading.flatness.expanded_uncertainty,
        "rms": shape.rms,
        "robust_pv": shape.robust_pv,
        "tilt": fringes.tilt,
        "power": power,
        "astigmatism": shape.astigmatism,
        "residual_pv": shape.residual_pv,
        "residual_rms": shape.residual_rms,
    }
    if reading.zernike is not None:
        values = reading.zernike.coefficients
        turned = values if signed or values[3] >= 0.0 else -values  # only the signs among the terms mean anything
        for term, value in enumerate(turned.tolist()[3:], start=4):  # piston and the two tilts are taken out
            numbers[f"zernike_{term}"] = value
    return {name: value if value is not None and math.isfinite(value) else None for name, value in numbers.items()}
