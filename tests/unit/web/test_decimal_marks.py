"""A decimal comma is taken wherever a number is typed, and offered where the page's language writes one."""

import re
from pathlib import Path

import pytest
from django import forms
from django.utils import translation

from lapwright.web.forms import LengthField, NumberField
from lapwright.web.plate_forms import PlateForm

pytestmark = pytest.mark.usefixtures("started_records")
WEB = Path(__file__).parents[3] / "src" / "lapwright" / "web"


class TypedForm(forms.Form):
    """One number and one length."""

    minutes = NumberField(least=0.5, most=90.0, initial=7.5)
    depth = LengthField(initial="12.5 µm")


def test_no_page_leaves_a_decimal_number_to_the_browser():
    """A number field of the browser knows one mark only, and some drop the other: 1,5 would become 15."""
    code = "\n".join(path.read_text(encoding="utf-8") for path in WEB.rglob("*.py"))
    assert re.findall(r"\b(?:FloatField|DecimalField|NumberInput)\(", code) == []
    pages = "\n".join(path.read_text(encoding="utf-8") for path in (WEB / "templates").rglob("*.html"))
    assert re.findall(r'<input[^>]*type="number"[^>]*step="0\.[^>]*>', pages) == []


@pytest.mark.parametrize("typed", ["1.5", "1,5"])
def test_point_and_comma_are_the_same_number(typed):
    """In either language."""
    for language in ("en", "de"):
        with translation.override(language):
            form = TypedForm({"minutes": typed, "depth": f"{typed} mm"})
            assert form.is_valid(), form.errors
            assert form.cleaned_data == {"minutes": 1.5, "depth": pytest.approx(1.5e-3)}


def test_what_is_offered_has_the_mark_of_the_language_and_what_was_typed_stays():
    """A number, a length and a form of the pages."""
    with translation.override("de"):
        assert [TypedForm()[name].value() for name in ("minutes", "depth")] == ["7,5", "12,5 µm"]
        assert TypedForm({"minutes": "1.5", "depth": "2.5 mm"})["depth"].value() == "2.5 mm"
        assert 'value="0,5 µm"' in str(PlateForm(stations=())["reading_uncertainty"])
    assert [TypedForm()[name].value() for name in ("minutes", "depth")] == ["7.5", "12.5 µm"]


@pytest.mark.parametrize(
    ("typed", "told"),
    [("0,25", "Gefunden: 0,25; es muss 0,5 oder mehr sein."), ("91", "Gefunden: 91; es darf höchstens 90 sein.")],
)
def test_a_number_out_of_its_range_is_refused_with_what_was_found_and_expected(typed, told):
    """In the language of the page."""
    with translation.override("de"):
        form = TypedForm({"minutes": typed, "depth": "1 mm"})
        assert form.errors == {"minutes": [told]}
