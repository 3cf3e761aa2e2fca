"""Contrast of every text and ground in the style sheet, by the formula of WCAG 2.2 (definition of contrast ratio)."""

import re
from importlib.resources import files

import pytest

STYLE = files("lapwright.web").joinpath("static/lapwright/tokens.css").read_text(encoding="utf-8")
#: text on ground, as the style sheets pair them
PAIRS = [
    ("ink", "ground"), ("ink", "sheet"), ("ink-soft", "ground"), ("ink-soft", "sheet"), ("act", "ground"),
    ("act", "sheet"), ("act", "act-wash"), ("act-ink", "act"), ("ink", "act-wash"), ("ink-soft", "act-wash"),
    ("good", "sheet"), ("good", "ground"), ("doubt", "sheet"), ("doubt", "ground"), ("doubt", "act-wash"),
    ("ink", "doubt-wash"), ("bad", "sheet"), ("bad", "ground"), ("ink", "bad-wash"), ("ink-soft", "doubt-wash"),
]  # fmt: skip


def colours(theme):
    """The colours of a theme; the dark one changes some of the light ones."""
    light, dark = STYLE.split("@media (prefers-color-scheme: dark)")
    found = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", light))
    return found if theme == "light" else found | dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", dark))


def luminance(colour):
    """Relative luminance (WCAG 2.2)."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(first, second):
    """Contrast ratio (WCAG 2.2)."""
    bright, dim = sorted((luminance(first), luminance(second)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)


def test_black_on_white_is_21_to_1():
    """The formula gives the ratio that WCAG states for black on white."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(("text", "ground"), PAIRS)
def test_text_reaches_four_and_a_half_to_one(text, ground, theme):
    """WCAG 2.2 success criterion 1.4.3: normal text has a contrast of at least 4.5:1."""
    found = colours(theme)
    assert contrast(found[text], found[ground]) >= 4.5


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_focus_and_field_borders_reach_three_to_one(theme):
    """WCAG 2.2 success criterion 1.4.11: what shows a control has a contrast of at least 3:1."""
    found = colours(theme)
    assert contrast(found["focus"], found["ground"]) >= 3.0
    assert contrast(found["line-strong"], found["sheet"]) >= 3.0
