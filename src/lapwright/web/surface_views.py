"""What the Fringes and Finish pages show of a face: drawings and numbers in the order of evidence."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _
from numpy.typing import NDArray

from lapwright.app.profile_readings import ProfileReading, told_settings
from lapwright.app.surface_readings import FringeReading
from lapwright.app.surfaces import MeasuredArea
from lapwright.formats.images import Picture
from lapwright.metrology.zernike import noll_indices
from lapwright.model.surface_record import FringeSettings, RecordedSurface
from lapwright.reports.drawing.chart import Line, Stretch
from lapwright.reports.drawing.fringe_view import HeightMap, Seen, fringe_picture, height_maps, trust_picture
from lapwright.web.face_form import drawn_points, face_form
from lapwright.web.lettering import lettering, line_chart
from lapwright.web.sentences import decimal, printed, said

Floats = NDArray[np.float64]
_METHODS = {
    "carrier": "tilt fringes, one picture",
    "closed": "closed fringes, one picture",
    "steps": "phase steps",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """One number with its name, its ± and a remark, as printed."""

    label: str
    text: str
    plusminus: str = ""
    remark: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureView:
    """A picture with its size in pixels, for the mask that is dragged over it."""

    drawing: str
    columns: int
    rows: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FringeView:
    """Evidence and answer of pictures of fringes."""

    picture: PictureView
    trust: str
    trusted_words: tuple[str, ...]
    sketch: str
    form: str
    sign_known: bool
    numbers: tuple[Number, ...]
    zernike: tuple[tuple[int, str, str], ...]
    removed: str
    maps: tuple[str, ...]
    section: str
    oblique: str
    unsure: str
    notices: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileView:
    """Evidence and answer of a profile or small map."""

    parts: tuple[str, ...]
    settings: str
    numbers: tuple[Number, ...]
    damage: tuple[Number, ...]
    damage_words: tuple[str, ...]
    no_damage: str
    notices: tuple[str, ...]
    incomplete: str


def fringe_words(settings: FringeSettings, height: float) -> str:
    """What one fringe means, as it is written into the picture."""
    told = _("one fringe = %(height)s") % {"height": printed(height, "µm", "length", digits=4)}
    if settings.fringe_height is None and settings.wavelength is not None:
        told += _(" · %(wavelength)s at %(angle)s") % {
            "wavelength": printed(settings.wavelength, "nm", "length", digits=1),
            "angle": decimal(f"{math.degrees(settings.incidence):.4g}°"),
        }
    return told


def bare_picture(picture: Picture, words: str) -> PictureView:
    """A picture of which nothing could be told."""
    rows, columns = picture.intensity.shape
    drawn = fringe_picture(Seen(intensity=picture.intensity, fringe=words), title=_("The picture as it came"))
    return PictureView(drawing=drawn, columns=columns, rows=rows)


def fringe_view(reading: FringeReading, *, beside: tuple[str, FringeReading] | None = None) -> FringeView:
    """All that is shown of a reading; `beside` is another face, to be drawn on the same scale of colours."""
    fringes = reading.fringes
    picture = reading.pictures[0].intensity
    words = fringe_words(reading.settings, fringes.fringe_height)
    seen = Seen(
        intensity=picture, mask=fringes.mask, trusted=np.isfinite(fringes.height), pixel_size=fringes.pixel_size,
        fringe=words,
    )  # fmt: skip
    removed = _("Taken out: mean and tilt. Power and all finer form is shown.")
    if fringes.sign_ambiguous:
        removed += _(" High and low may be exchanged.")
    form = face_form(reading, removed=removed, beside=beside)
    return FringeView(
        picture=PictureView(
            drawing=fringe_picture(seen, title=_("The picture with its scale")),
            columns=picture.shape[1],
            rows=picture.shape[0],
        ),
        trust=trust_picture(seen, title=_("What was trusted"), desc=_("Outside the sample dark, not trusted striped.")),
        trusted_words=_trusted_words(reading),
        sketch=form.sketch,
        form=form.words,
        sign_known=not fringes.sign_ambiguous,
        numbers=fringe_numbers(reading.numbers, sign_ambiguous=fringes.sign_ambiguous),
        zernike=_zernike_rows(reading.numbers),
        removed=removed,
        maps=form.maps,
        section=form.section,
        oblique=form.oblique,
        unsure=reading.unsure,
        notices=reading.notices,
    )  # fmt: skip


def fringe_numbers(numbers: Mapping[str, float | None], *, sign_ambiguous: bool) -> tuple[Number, ...]:
    """The numbers of a face from fringes, as printed."""
    power = _("Power, as a magnitude") if sign_ambiguous else _("Power, domed above zero")
    expanded = numbers.get("pv_expanded_uncertainty")
    plusminus = "" if expanded is None else f"± {_um(expanded)} (95\u00a0%)"
    return (
        Number(label=_("Flatness, peak to valley"), text=_um(numbers["pv"]), plusminus=plusminus),
        Number(label=_("Peak to valley without the outer 1 %"), text=_um(numbers["robust_pv"])),
        Number(label=_("rms"), text=_um(numbers["rms"])),
        Number(label=power, text=_um(numbers["power"])),
        Number(label=_("Astigmatism"), text=_um(numbers["astigmatism"])),
        Number(
            label=_("Left after power and astigmatism"), text=_um(numbers["residual_pv"]),
            remark=_("rms %(rms)s") % {"rms": _um(numbers["residual_rms"])},
        ),
        Number(label=_("Tilt of the set-up"), text=_um(numbers["tilt"]), remark=_("taken out; not a wedge")),
    )  # fmt: skip


def profile_view(reading: ProfileReading) -> ProfileView:
    """All that is shown of a profile."""
    lacking = [
        text
        for missing, text in (
            (reading.settings.noise is None, _("the noise of the instrument")),
            (reading.settings.height_uncertainty is None, _("the uncertainty of its height scale")),
        )
        if missing
    ]
    incomplete = ""
    if lacking:
        told = _("The ± holds how the face varies from place to place only; not stated: %(what)s.")
        incomplete = told % {"what": _(" and ").join(lacking)}
    return ProfileView(
        parts=_parts(reading),
        settings=told_settings(reading),
        numbers=profile_numbers(reading.numbers),
        damage=_damage_numbers(reading.numbers),
        damage_words=() if reading.damage is None
        else (reading.damage.method, *(sentence for _code, sentence in reading.damage.warnings)),
        no_damage=reading.no_damage,
        notices=reading.notices,
        incomplete=incomplete,
    )  # fmt: skip


def profile_numbers(numbers: Mapping[str, float | None]) -> tuple[Number, ...]:
    """The parameters of a profile or map, as printed; none without its name of the standard."""
    shown = []
    for name in ("ra", "rq", "rz", "rt", "rp", "rv", "sa", "sq", "sz", "sp", "sv"):
        if name not in numbers:
            continue
        expanded, without = numbers.get(f"{name}_expanded_uncertainty"), numbers.get(f"{name}_without_noise")
        shown.append(
            Number(
                label=name.capitalize(),
                text=_nm(numbers[name]),
                plusminus="" if expanded is None else f"± {_nm(expanded)} (95\u00a0%)",
                remark="" if without is None else _("without the noise %(value)s") % {"value": _nm(without)},
            )
        )
    shown += [
        Number(label=name.capitalize(), text=decimal(f"{numbers[name]:.2f}").replace("-", "\u2212"))
        for name in ("rsk", "rku", "ssk", "sku")
        if numbers.get(name) is not None
    ]
    if numbers.get("rsm") is not None:
        shown.append(Number(label="Rsm", text=printed(numbers["rsm"] or 0.0, "µm", "length", digits=1)))
    if numbers.get("rdq") is not None:
        shown.append(Number(label="Rdq", text=decimal(f"{numbers['rdq']:.2g}")))
    return tuple(shown)


def short_numbers(surface: RecordedSurface) -> str:
    """The one or two numbers of a recorded face that a list shows."""
    numbers = surface.numbers
    if surface.kind == "fringes":
        told = _("flatness %(pv)s, power %(power)s") % {"pv": _um(numbers["pv"]), "power": _um(numbers["power"])}
        return told + (_(" (magnitude)") if surface.sign_ambiguous else "")
    if surface.kind == "voids":
        return _("%(n)d voids, the longest %(longest)s mm") % {
            "n": numbers["voids"] or 0,
            "longest": decimal(f"{1e3 * (numbers['longest_m'] or 0.0):.1f}"),
        }
    name = "sq" if "sq" in numbers else "ra"
    cutoff = numbers.get("cutoff")
    told = f"{name.capitalize()} {_nm(numbers[name])}"
    return told + (decimal(f", λc {cutoff * 1e3:.3g} mm") if cutoff else _(", no cutoff"))


# ----------------------------------------------------------------------------------------------------------------------


def _um(value: float | None) -> str:
    return "–" if value is None else printed(value, "µm", "length", digits=3)


def _nm(value: float | None) -> str:
    return "–" if value is None else printed(value, "nm", "length", digits=2)


def _trusted_words(reading: FringeReading) -> tuple[str, ...]:
    fringes = reading.fringes
    told = [
        _("Read as %(method)s; %(share)s %% of the sample gave a height.")
        % {"method": _(_METHODS[fringes.method]), "share": decimal(f"{100.0 * fringes.coverage:.1f}")},
        _("Contrast %(contrast)s; noise of a pixel %(noise).0f %% of the fringes' amplitude.")
        % {"contrast": decimal(f"{fringes.contrast:.2f}"), "noise": 100.0 * fringes.noise},
    ]
    if fringes.carrier is not None:
        told.append(_("%(count)s fringes across.") % {"count": decimal(f"{fringes.carrier.fringes_across:.1f}")})
    if fringes.islands:
        count = sum(one.n_pixels for one in fringes.islands)
        told.append(
            _("%(n)d patches (%(pixels)d pixels) stand apart and were left out: nothing joins them to the rest.")
            % {"n": len(fringes.islands), "pixels": count}
        )
    return tuple(told)


def _zernike_rows(numbers: Mapping[str, float | None]) -> tuple[tuple[int, str, str], ...]:
    rows = []
    for name, value in numbers.items():
        if name.startswith("zernike_"):
            term = int(name.rpartition("_")[2])
            n, m = noll_indices(term)
            rows.append((term, f"{n}, {m}".replace("-", "\u2212"), _um(value)))
    return tuple(rows)


def _parts(reading: ProfileReading) -> tuple[str, ...]:
    if isinstance(reading.measured, MeasuredArea):
        area = reading.measured.result
        shown = [HeightMap(height=area.roughness, pixel_size=area.pixel_size)]
        return tuple(
            height_maps(shown, title=_("Roughness"), removed=said(told_settings(reading)), lettering=lettering())
        )
    line = reading.measured.result
    x = np.arange(line.form.size) * line.spacing * 1e3
    start, stop = (end * line.spacing * 1e3 for end in line.evaluated)
    evaluated = Stretch(start=start, end=stop, name=_("evaluated"))
    drawn = []
    for title, values, stretch in (
        (_("Form, taken out first"), line.form, None),
        (_("Waviness, longer than the cutoff"), line.waviness, None),
        (_("Roughness, shorter than the cutoff"), line.roughness, evaluated),
    ):
        across, up = drawn_points(np.asarray(x, dtype=np.float64), np.asarray(values * 1e9, dtype=np.float64))
        drawn.append(
            line_chart(
                [Line(x=across, y=up)], x_label=_("along the profile, mm"), y_label=f"{_('height')}, nm",
                title=f"{title}: {_ranged(values)}", stretch=stretch,
            )
        )  # fmt: skip
    return tuple(drawn)


def _ranged(values: NDArray[np.float64]) -> str:
    """How far apart the lowest and the highest place of a line are."""
    return _("%(range)s from lowest to highest") % {"range": f"{decimal(f'{np.ptp(values) * 1e9:.1f}')} nm"}


def _damage_numbers(numbers: Mapping[str, float | None]) -> tuple[Number, ...]:
    if numbers.get("damage_high") is None:
        return ()
    expected = numbers.get("damage_expected")
    return (
        Number(label=_("Depth of damage, expected"), text=_um(expected) if expected is not None else _("not known")),
        Number(label=_("Depth of damage, at most (about 95 %)"), text=_um(numbers["damage_high"])),
    )
