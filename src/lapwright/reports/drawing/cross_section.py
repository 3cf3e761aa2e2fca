"""A request as a cross-section: the piece as it comes and as it is wanted, each length with its letter.

The piece as it comes is dashed, the wanted one full, on one scale of thickness; the rims that do not count are barred.
Beside it the wanted face is shown enlarged, with the two limits of its thickness and its largest TTV as a slope. What
is not known is not drawn; its letter stands with a question mark. Lengths come in m.
"""

from __future__ import annotations

from dataclasses import dataclass

from lapwright.reports.drawing.ink import (
    ENGLISH,
    FAINT,
    Lettering,
    drawing,
    element,
    hatch,
    own_id,
    table,
    written,
)

_LEFT, _WIDE, _BASE, _TALL = 74.0, 330.0, 226.0, 170.0
_ZOOM_LEFT, _ZOOM_WIDE, _ZOOM_TOP, _ZOOM_TALL = 480.0, 190.0, 62.0, 120.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RequestedPiece:
    """What is known of a requested piece [m]; None where nothing is."""

    start: float | None = None
    start_ttv: float | None = None
    damage: float | None = None
    target: float | None = None
    tolerance: float | None = None
    ttv: float | None = None
    width: float | None = None
    exclusion: float | None = None
    hold: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionWords:
    """The words of this drawing."""

    as_it_comes: str = "as it comes"
    as_wanted: str = "as wanted"
    enlarged: str = "the wanted face, enlarged"
    clamped: str = "measured clamped"
    free: str = "measured free"
    not_known: str = "free or clamped?"


WORDS = SectionWords()


def cross_section(
    piece: RequestedPiece, *, title: str, words: SectionWords = WORDS, lettering: Lettering = ENGLISH
) -> str:
    """SVG of a requested piece; the letters a to h stand for the lengths in the order of `letters`."""
    known = [one for one in (piece.start, piece.target) if one is not None and one > 0.0]
    scale = _TALL / max(known) if known else 0.0
    rim, soft = own_id("rim", title), own_id("damage", title)
    return drawing(
        element("defs", hatch(rim, colour=FAINT), hatch(soft, colour=FAINT, angle=-45, gap=5.0)),
        *_incoming(piece, scale, soft, words),
        *_wanted(piece, scale, rim, words),
        *_rest(piece, words),
        *_across(piece),
        *_enlarged(piece, rim, words),
        title=title,
        desc=_told(piece, words).replace(".", lettering.decimal),
        width=700.0,
        height=300.0,
        lettering=lettering,
        data=table(("what", "value_um"), _lengths(piece)),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _lengths(piece: RequestedPiece) -> list[tuple[str, float | None]]:
    """All lengths of the request [µm]; None where nothing is known."""
    names = ("start", "start_ttv", "damage", "target", "tolerance", "ttv", "width", "exclusion")
    values = [(name, getattr(piece, name)) for name in names]
    return [(name, None if value is None else value * 1e6) for name, value in values]


def _letter(x: float, y: float, letter: str, *, known: bool) -> str:
    """A letter in a ring; with a question mark where its length is not known."""
    ring = element("circle", cx=x, cy=y, r=11.0, fill="none", stroke="currentColor", stroke_width=1.4)
    return ring + written(x, y + 4.5, letter if known else f"{letter}?", size=14.0, anchor="middle")


def _upright(x: float, top: float, bottom: float) -> str:
    """A measured height: an upright line with a bar at each end."""
    data = f"M{x} {top:.1f}V{bottom:.1f}M{x - 5.0} {top:.1f}h10M{x - 5.0} {bottom:.1f}h10"
    return element("path", d=data, stroke="currentColor", stroke_width=1.2, fill="none")


def _ghost(tall: float) -> str:
    """Where a length will stand that is not known yet: dotted, and of no size that could be read."""
    data = f"M{_LEFT} {_BASE}V{_BASE - tall:.1f}h{_WIDE}V{_BASE}Z"
    return element(
        "path", d=data, fill="none", stroke=FAINT, stroke_width=1.2, stroke_dasharray="1 5", class_="faint-line"
    )


def _incoming(piece: RequestedPiece, scale: float, soft: str, words: SectionWords) -> list[str]:
    x = _LEFT - 26.0
    if piece.start is None or scale == 0.0:
        ghost = [_ghost(0.9 * _TALL)] if piece.target is None else []
        return [*ghost, _letter(x, _BASE - 0.5 * _TALL, "a", known=False)]
    tall = piece.start * scale
    top = _BASE - tall
    drawn = [
        element(
            "path", d=f"M{_LEFT} {_BASE}V{top:.1f}h{_WIDE}V{_BASE}", fill="none", stroke="currentColor",
            stroke_width=1.4, stroke_dasharray="6 4",
        ),
        _upright(x + 14.0, top, _BASE),
        _letter(x - 6.0, _BASE - 0.5 * tall, "a", known=True),
        written(_LEFT + 6.0, top - 8.0, words.as_it_comes, size=14.0),
    ]  # fmt: skip
    if piece.damage:
        deep = min(piece.damage * scale, tall)
        drawn.append(element("rect", x=_LEFT, y=top, width=_WIDE, height=max(deep, 0.6), fill=f"url(#{soft})"))
    return drawn


def _wanted(piece: RequestedPiece, scale: float, rim: str, words: SectionWords) -> list[str]:
    x = _LEFT + _WIDE + 12.0
    if piece.target is None or scale == 0.0:
        return [_ghost(0.3 * _TALL), _letter(x + 20.0, _BASE - 0.15 * _TALL, "b", known=False)]
    tall = piece.target * scale
    top = _BASE - tall
    drawn = [
        element(
            "rect", x=_LEFT, y=top, width=_WIDE, height=tall, fill="currentColor", opacity="0.16",
            stroke="none",
        ),
        element("rect", x=_LEFT, y=top, width=_WIDE, height=tall, fill="none", stroke="currentColor", stroke_width=2.0),
        _upright(x, top, _BASE),
        _letter(x + 20.0, _BASE - 0.5 * tall, "b", known=True),
        written(_LEFT + _WIDE - 6.0, top - 8.0, words.as_wanted, size=14.0, anchor="end"),
    ]  # fmt: skip
    if piece.exclusion and piece.width:
        reach = min(piece.exclusion / piece.width, 0.5) * _WIDE
        drawn += [
            element("rect", x=left, y=top, width=reach, height=tall, fill=f"url(#{rim})")
            for left in (_LEFT, _LEFT + _WIDE - reach)
        ]
    return drawn


def _rest(piece: RequestedPiece, words: SectionWords) -> list[str]:
    """How it lies when it is measured: on a plane that holds it, or on three points."""
    middle = _LEFT + 0.5 * _WIDE
    if piece.hold == "clamped":
        plane = element("path", d=f"M{_LEFT} {_BASE + 5.0}h{_WIDE}", stroke="currentColor", stroke_width=4.0)
        return [plane, written(middle, _BASE + 24.0, words.clamped, size=14.0, anchor="middle")]
    if piece.hold == "free":
        points = [
            element("path", d=f"M{x:.1f} {_BASE + 1.0}l6 10h-12Z", fill="currentColor")
            for x in (_LEFT + 40.0, middle, _LEFT + _WIDE - 40.0)
        ]
        return [*points, written(middle, _BASE + 26.0, words.free, size=14.0, anchor="middle")]
    return [written(middle, _BASE + 24.0, words.not_known, size=14.0, anchor="middle")]


def _across(piece: RequestedPiece) -> list[str]:
    """The width below the piece, and the rim that does not count."""
    y = _BASE + 46.0
    return [
        element(
            "path", d=f"M{_LEFT} {y}h{_WIDE}M{_LEFT} {y - 5.0}v10M{_LEFT + _WIDE} {y - 5.0}v10",
            stroke="currentColor", stroke_width=1.2, fill="none",
        ),
        _letter(_LEFT + 0.5 * _WIDE, y + 14.0, "e", known=piece.width is not None),
        _letter(_LEFT + 12.0, y + 14.0, "f", known=piece.exclusion is not None),
    ]  # fmt: skip


def _enlarged(piece: RequestedPiece, rim: str, words: SectionWords) -> list[str]:
    """The wanted face: its two limits, and the largest TTV as a slope between them on the same scale."""
    centre = _ZOOM_TOP + 0.5 * _ZOOM_TALL
    right = _ZOOM_LEFT + _ZOOM_WIDE
    drawn = [written(_ZOOM_LEFT, _ZOOM_TOP - 26.0, words.enlarged, size=14.0)]
    reach = max(piece.tolerance or 0.0, 0.5 * (piece.ttv or 0.0))
    scale = 0.36 * _ZOOM_TALL / reach if reach > 0.0 else 0.0
    if piece.tolerance:
        half = piece.tolerance * scale
        for y in (centre - half, centre + half):
            bar = f"M{_ZOOM_LEFT} {y:.1f}h{_ZOOM_WIDE}"
            drawn.append(element("path", d=bar, stroke="currentColor", stroke_width=3.0))
        drawn.append(_upright(right + 10.0, centre - half, centre + half))
    drawn.append(_letter(right + 12.0, _ZOOM_TOP + _ZOOM_TALL + 18.0, "c", known=bool(piece.tolerance)))
    drawn.append(
        element(
            "path", d=f"M{_ZOOM_LEFT} {centre:.1f}h{_ZOOM_WIDE}", stroke=FAINT, stroke_dasharray="4 4",
            class_="faint-line",
        )
    )  # fmt: skip
    if piece.ttv:
        rise = 0.5 * piece.ttv * scale
        face = f"M{_ZOOM_LEFT} {centre + rise:.1f}L{right} {centre - rise:.1f}"
        under = f"{face}V{centre + rise:.1f}Z"
        drawn.append(element("path", d=under, fill=f"url(#{rim})"))
        drawn.append(element("path", d=face, stroke="currentColor", stroke_width=2.0, fill="none"))
    drawn.append(_letter(_ZOOM_LEFT + 12.0, _ZOOM_TOP + _ZOOM_TALL + 18.0, "d", known=bool(piece.ttv)))
    return drawn


def _told(piece: RequestedPiece, words: SectionWords) -> str:
    def length(value: float | None) -> str:
        return "?" if value is None else f"{value * 1e6:.6g} µm"

    return (
        f"{words.as_it_comes}: {length(piece.start)}; {words.as_wanted}: {length(piece.target)}"
        f" ± {length(piece.tolerance)}, TTV ≤ {length(piece.ttv)}"
    )
