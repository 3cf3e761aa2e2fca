"""A request drawn: on one scale, and what is not known is asked for instead of drawn."""

import re
from xml.etree import ElementTree as ET

import pytest

from lapwright.reports.drawing.cross_section import RequestedPiece, cross_section

SVG = "{http://www.w3.org/2000/svg}"
WHOLE = RequestedPiece(
    start=500e-6, damage=20e-6, target=100e-6, tolerance=2e-6, ttv=2e-6, width=50.8e-3, exclusion=2e-3, hold="free"
)


def tree(piece):
    """The drawing as a tree."""
    return ET.fromstring(cross_section(piece, title="request"))


def questions(found):
    """The letters that are asked for."""
    return sorted(
        one.text for one in found.iter(f"{SVG}text") if one.text and one.text.endswith("?") and len(one.text) == 2
    )


def test_both_pieces_stand_on_one_scale():
    """100 of 500 µm: the wanted one is a fifth as high as the one that comes."""
    found = tree(WHOLE)
    wanted = max(float(one.get("height")) for one in found.iter(f"{SVG}rect") if one.get("stroke-width") == "2")
    dashed = next(one.get("d") for one in found.iter(f"{SVG}path") if one.get("stroke-dasharray") == "6 4")
    base, top = (float(part) for part in re.match(r"M[\d.]+ ([\d.]+)V([\d.]+)", dashed).groups())
    assert wanted == pytest.approx((base - top) / 5.0, abs=0.1)


def test_the_rims_are_as_wide_as_their_share():
    """2 of 50.8 mm on each side."""
    found = tree(WHOLE)
    body = next(one for one in found.iter(f"{SVG}rect") if one.get("stroke-width") == "2")
    wide = float(body.get("width"))
    rims = [
        float(one.get("width")) for one in found.iter(f"{SVG}rect") if (one.get("fill") or "").startswith("url(#rim")
    ]
    assert rims == [pytest.approx(wide * 2.0 / 50.8, abs=0.06)] * 2


def test_what_is_not_known_is_asked_for_and_not_drawn():
    """Nothing typed: six letters with question marks, and how it is held."""
    empty = tree(RequestedPiece())
    assert questions(empty) == ["a?", "b?", "c?", "d?", "e?", "f?"]
    assert "free or clamped?" in [one.text for one in empty.iter(f"{SVG}text")]
    assert questions(tree(WHOLE)) == []


def test_free_stands_on_three_points_and_clamped_on_a_plane():
    """Told by the drawing and by words."""
    for hold, word in (("free", "measured free"), ("clamped", "measured clamped")):
        found = tree(RequestedPiece(start=5e-4, target=1e-4, hold=hold))
        assert word in [one.text for one in found.iter(f"{SVG}text")]
