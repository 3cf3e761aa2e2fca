"""A decimal comma is taken wherever a number is typed, and offered where the page's language writes one."""

import re
from pathlib import Path

import pytest
from django import forms
from django.utils import translation

from lapwright.web.forms import LengthField, NumberField
from lapwright.web.plate_forms import PlateForm
from lapwright.web.sentences import said

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


TWO_WAYS = {  # typed -> what it means on an English and on a German page [mm], None where it is asked back
    "1.234": (1.234, None), "1,234": (None, 1.234), "12,345": (None, 12.345), "0,123": (0.123, 0.123),
    "1.2345": (1.2345, 1.2345), "1234,567": (1234.567, 1234.567), "\uff11\uff12\uff0e\uff15": (12.5, 12.5),
    "\u0663\u066b\u0665": (3.5, 3.5), "\u22121.5": (-1.5, -1.5), "1\u202f234.5": (1234.5, 1234.5),
}  # fmt: skip


@pytest.mark.parametrize("typed", TWO_WAYS)
def test_a_number_that_may_be_a_thousand_times_as_much_is_asked_about(typed):
    """The mark of the page's language is a decimal mark; the other one before three digits may stand for thousands."""
    for language, wanted in zip(("en", "de"), TWO_WAYS[typed], strict=True):
        with translation.override(language):
            form = TypedForm({"minutes": "1", "depth": f"{typed} mm"})
            if wanted is not None:
                assert form.is_valid(), (language, form.errors)
                assert form.cleaned_data["depth"] == pytest.approx(wanted * 1e-3)
            else:
                (told,) = form.errors["depth"]
                digits = typed.replace(".", "").replace(",", "")
                assert digits in told
                assert typed.replace(",", "." if language == "en" else ",") in told


@pytest.mark.parametrize(
    "typed", ["1.234,5", "1,234.5", "1 234,5", "12 345", "1'234", "1\u2019234,5", "1,234,567", "1_000", "1..2"]
)
def test_marks_between_thousands_are_told_as_such(typed):
    """Never cut off behind the mark, never taken for a unit."""
    for language, words in (("en", "mark between thousands"), ("de", "Tausender")):
        with translation.override(language):
            form = TypedForm({"minutes": typed, "depth": f"{typed} mm"})
            for name in ("minutes", "depth"):
                (told,) = form.errors[name]
                assert words in said(told), told


def test_what_is_no_number_at_all_is_told():
    """Not a number, too large for one, empty of digits, with what cannot be seen."""
    for typed in ("nan", "inf", "1e400", "=1+1", "\u200b5", "\u202e5", "x" * 30):
        form = TypedForm({"minutes": typed, "depth": f"{typed} mm"})
        assert set(form.errors) == {"minutes", "depth"}, typed
