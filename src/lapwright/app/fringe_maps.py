"""Fringe pictures to a height map and the form of the sample: the use case behind the command and the page.

The scale comes from the sample itself (its diameter or sides over the pixels it takes) or from a stated pixel size.
Nothing here loads the database.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import BadInput, CannotAnswer, Fault, FringesClosed, TooFewFringes
from lapwright.formats.images import Channel, Picture, read_picture
from lapwright.metrology.fringes import FringeResult, height_from_carrier, height_from_closed, height_from_steps
from lapwright.metrology.shape import ShapeResult, measured_shape
from lapwright.metrology.shape_grid import Aperture, fitted_aperture, grid_axes
from lapwright.metrology.zernike import ZernikeFit, zernike_fit
from lapwright.model.surface import HeightMap
from lapwright.model.wafer import Outline, Polygon, Rectangle, Round

FringeMethod = Literal["auto", "carrier", "closed", "steps"]
Mask = NDArray[np.bool_]
Notice = tuple[str, str]
_OUT_OF_ROUND = 0.03  # a disc whose width and height differ by more is seen at a slant, or has a flat
_RAYS = 720  # directions in which the rim is looked for
_OTHER_ASPECT = 0.01  # shape of a pixel that differs by more from the one assumed: the tilt is taken again


@dataclass(frozen=True, slots=True, kw_only=True)
class FringeQuestion:
    """How pictures were taken and what is known from outside: lengths in m, angles in rad.

    Exactly one of `outline` and `pixel_size` gives the scale; `pixel_aspect` is a pixel's height over its width on the
    sample, for a view at a slant. `steps` are phases, None for unknown ones. What lies nearer to the edge of the sample
    than `edge_exclusion` [m] is left out of the form.
    """

    fringe_height: float
    outline: Outline | None = None
    pixel_size: tuple[float, float] | None = None
    pixel_aspect: float | None = None
    method: FringeMethod = "auto"
    channel: Channel | None = None
    steps: tuple[float, ...] | None = None
    equal_steps: bool = False
    steps_open_gap: bool | None = None
    tilt_opens_toward: float | None = None
    pressed_fringes_toward: float | None = None
    pressed_fringes_move: Literal["outward", "inward"] | None = None
    zernike_terms: int = 22
    edge_exclusion: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredFringes:
    """A map from fringes with its form: Zernike terms are None where the map does not carry them."""

    fringes: FringeResult
    shape: ShapeResult
    zernike: ZernikeFit | None
    channel: Channel
    warnings: tuple[Notice, ...]

    @property
    def surface(self) -> HeightMap:
        """The map, to be saved."""
        return HeightMap(
            height=self.fringes.height,
            pixel_size=self.fringes.pixel_size,
            sign_ambiguous=self.fringes.sign_ambiguous,
        )


def fringes_of_pictures(
    pictures: tuple[Picture, ...], question: FringeQuestion, *, mask: Mask | None = None
) -> MeasuredFringes:
    """The height map and form of a sample from one fringe picture, or from several with stepped phase.

    Raises `BadInput` for pictures of different sizes or a question that contradicts itself, `FringesRefused` and its
    kin for pictures that must not become a map.
    """
    _need_alike(pictures)
    assumed = _first_pixel_size(question)
    result, notices = _height(pictures, question, mask=mask, pixel_size=assumed)
    pixel, more = _scale_from_sample(result.mask, question, assumed)
    if abs(pixel[0] / pixel[1] * assumed[1] / assumed[0] - 1.0) > _OTHER_ASPECT:
        result, notices = _height(pictures, question, mask=mask, pixel_size=pixel)
    result = replace(result, pixel_size=pixel)
    height, aperture = _judged(result, question.edge_exclusion)
    shape = measured_shape(height, pixel_size=pixel, aperture=aperture)
    notices += more
    zernike = None
    try:
        zernike = zernike_fit(height, pixel_size=pixel, terms=question.zernike_terms, aperture=aperture)
    except CannotAnswer as error:
        notices.append((error.code, error.sentence))
    notices += [("fringes.notice", sentence) for sentence in result.warnings]
    return MeasuredFringes(
        fringes=result, shape=shape, zernike=zernike, channel=pictures[0].channel, warnings=tuple(notices)
    )


def pictures_of_files(paths: tuple[Path, ...], *, channel: Channel | None = None) -> tuple[Picture, ...]:
    """The pictures in files, all of one channel: the one given, or the one the first picture varies most in."""
    first = read_picture(paths[0], channel=channel)
    taken = None if first.channel == "grey" and channel is None else first.channel
    return (first, *(read_picture(path, channel=taken) for path in paths[1:]))


# ----------------------------------------------------------------------------------------------------------------------


def _need_alike(pictures: tuple[Picture, ...]) -> None:
    if not pictures:
        raise BadInput([Fault(sentence="No picture was given; one is needed at least.", field="image")])
    first = pictures[0].intensity.shape
    faults = [
        Fault(
            sentence=f"Picture {number} is {one.intensity.shape[1]} by {one.intensity.shape[0]} pixels and the first "
            f"{first[1]} by {first[0]}; pictures of one set must be alike. Leave it out or take the set again.",
            field="image",
        )
        for number, one in enumerate(pictures, start=1)
        if one.intensity.shape != first
    ]
    if faults:
        raise BadInput(faults, subject="The set of pictures")


def _height(
    pictures: tuple[Picture, ...], question: FringeQuestion, *, mask: Mask | None, pixel_size: tuple[float, float]
) -> tuple[FringeResult, list[Notice]]:
    """The map by the method asked for; one picture with too little tilt is tried as one with closed fringes."""
    method = question.method
    if method == "auto" and len(pictures) > 1:
        method = "steps"
    if (method == "steps") != (len(pictures) > 1):
        sentence = f"{len(pictures)} picture(s) were given; phase steps take three or more, the other methods one."
        raise BadInput([Fault(sentence=sentence, field="image")])
    if method == "steps":
        return _by_steps(pictures, question, mask=mask, pixel_size=pixel_size), _not_used(question, "steps")
    image = pictures[0].intensity
    if method != "closed":
        try:
            return _by_carrier(image, question, mask, pixel_size), _not_used(question, "carrier")
        except (TooFewFringes, FringesClosed):
            if method == "carrier":
                raise
    result = height_from_closed(
        image,
        fringe_height=question.fringe_height,
        pixel_size=pixel_size,
        mask=mask,
        pressed_fringes_move=question.pressed_fringes_move,
    )
    notices = _not_used(question, "closed")
    if method == "auto":
        sentence = "The tilt is too small for the tilt method, so the picture was read as one with closed fringes."
        notices.append(("fringes.read_as_closed", sentence))
    return result, notices


def _by_steps(
    pictures: tuple[Picture, ...], question: FringeQuestion, *, mask: Mask | None, pixel_size: tuple[float, float]
) -> FringeResult:
    return height_from_steps(
        np.stack([one.intensity for one in pictures]),
        fringe_height=question.fringe_height,
        pixel_size=pixel_size,
        steps=None if question.steps is None else np.array(question.steps),
        equal_steps=question.equal_steps,
        steps_open_gap=question.steps_open_gap,
        mask=mask,
    )


def _by_carrier(
    image: NDArray[np.float32], question: FringeQuestion, mask: Mask | None, pixel_size: tuple[float, float]
) -> FringeResult:
    return height_from_carrier(
        image,
        fringe_height=question.fringe_height,
        pixel_size=pixel_size,
        mask=mask,
        tilt_opens_toward=question.tilt_opens_toward,
        pressed_fringes_toward=question.pressed_fringes_toward,
    )


def _not_used(question: FringeQuestion, method: str) -> list[Notice]:
    """Facts about the sign that the method at work cannot use."""
    told = {
        "steps_open_gap": "steps",
        "steps": "steps",
        "tilt_opens_toward": "carrier",
        "pressed_fringes_toward": "carrier",
        "pressed_fringes_move": "closed",
    }
    left = [name for name, used_by in told.items() if used_by != method and getattr(question, name) is not None]
    if not left:
        return []
    words = ", ".join(name.replace("_", " ") for name in left)
    return [("fringes.fact_not_used", f"Given but of no use to the method at work ({method}): {words}.")]


def _first_pixel_size(question: FringeQuestion) -> tuple[float, float]:
    """The pixel size, or only the shape of a pixel while the sample has not been found."""
    if (question.outline is None) == (question.pixel_size is None):
        sentence = "The scale is missing or given twice; give either the size of the sample or that of a pixel."
        raise BadInput([Fault(sentence=sentence, field="diameter")])
    return question.pixel_size or (question.pixel_aspect or 1.0, 1.0)


def _scale_from_sample(
    mask: Mask, question: FringeQuestion, pixel_size: tuple[float, float]
) -> tuple[tuple[float, float], list[Notice]]:
    """The pixel size from the sample's known size over the pixels it takes."""
    if question.pixel_size is not None:
        return question.pixel_size, []
    rows, columns = (np.flatnonzero(mask.any(axis=axis)) for axis in (1, 0))
    down, across = float(np.ptp(rows) + 1), float(np.ptp(columns) + 1)
    if isinstance(question.outline, Round):
        aperture = _disc(mask, pixel_size)
        scale = 0.5 * question.outline.diameter / aperture.radius
        ratio = across * pixel_size[1] / (down * pixel_size[0])
        notices: list[Notice] = []
        if abs(ratio - 1.0) > _OUT_OF_ROUND:
            sentence = (
                f"The sample is {across:.0f} pixels wide and {down:.0f} high. If it is round without a flat it was "
                "seen at a slant: state the height of a pixel over its width, or the sides of the sample."
            )
            notices.append(("fringes.not_round", sentence))
        return (pixel_size[0] * scale, pixel_size[1] * scale), notices
    width, height = _sides(question.outline)
    return (height / down, width / across), []


def _judged(fringes: FringeResult, exclusion: float) -> tuple[NDArray[np.float64], Aperture]:
    """The heights whose form counts, and their circle: of all the sample, or so far in from its edge."""
    if exclusion <= 0.0:
        return fringes.height, _disc(fringes.mask, fringes.pixel_size)
    from scipy.ndimage import distance_transform_edt

    mask = np.pad(fringes.mask, 1)
    inside = distance_transform_edt(mask, sampling=fringes.pixel_size)[1:-1, 1:-1] >= exclusion
    if not inside.any():
        sentence = f"The edge exclusion of {exclusion * 1e3:g} mm leaves nothing of the sample. Give a smaller one."
        raise BadInput([Fault(sentence=sentence, field="edge_exclusion")])
    height = np.where(inside, fringes.height, np.nan)
    return height, fitted_aperture(inside, pixel_size=fringes.pixel_size)


def _disc(mask: Mask, pixel_size: tuple[float, float]) -> Aperture:
    """The circle that the sample fills; a few pixels of glare or dust that stick out of its rim do not widen it."""
    circle = fitted_aperture(mask, pixel_size=pixel_size)
    x, y = grid_axes(mask.shape, pixel_size=pixel_size)
    rows, columns = np.nonzero(mask)
    dx, dy = x[columns] - circle.x, y[rows] - circle.y
    ray = ((np.arctan2(dy, dx) / math.tau + 0.5) * _RAYS).astype(np.intp) % _RAYS
    rim = np.zeros(_RAYS)
    np.maximum.at(rim, ray, np.hypot(dx, dy))
    usual = float(np.median(rim)) + 0.5 * max(pixel_size)
    sticks_out = circle.radius - usual > max(pixel_size)
    is_disc = float(np.percentile(rim, 25)) > 0.98 * usual
    return replace(circle, radius=usual) if sticks_out and is_disc else circle


def _sides(outline: Outline | None) -> tuple[float, float]:
    if isinstance(outline, Rectangle):
        return outline.width, outline.height
    if isinstance(outline, Polygon):
        xs, ys = zip(*outline.corners, strict=True)
        return max(xs) - min(xs), max(ys) - min(ys)
    raise BadInput([Fault(sentence="The sample has no size; give its diameter or sides.", field="outline")])
