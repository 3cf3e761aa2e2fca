"""What is typed into a form with a decimal mark: offered with that of the page's language, taken with point or comma.

Such a field is text, never a number field of the browser: that one knows only the mark of the browser's own language,
and in some browsers drops the other without a word, so that 1,5 becomes 15.
"""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.functional import cached_property
from django.utils.translation import gettext

from lapwright import units
from lapwright.errors import UnitError
from lapwright.web.sentences import decimal


class Offered(forms.BoundField):
    """A field of a form, with what it offers printed in the language of the page; what was typed stays as typed."""

    @cached_property
    def initial(self) -> Any:
        """What stands in it before anybody typed."""
        value = super().initial
        text = f"{value:.10g}" if isinstance(value, float | int) and not isinstance(value, bool) else value
        return decimal(text) if isinstance(text, str) else text


def doubt_of(text: str) -> str | None:
    """What to ask back about a number that another reader would take for a thousand times as much or as little.

    One to three digits, a mark and three digits are a decimal number where the mark is the decimal mark of the page's
    language. With the other one, which that language sets between thousands, they may be either.
    """
    found = units.two_ways(text)
    if found is None or found[0] == decimal("1.5")[1]:
        return None
    mark, small, large = found
    typed = small.replace(".", mark)
    sentence = gettext("%(typed)s can mean %(small)s or %(large)s. Write the one that is meant.")
    return sentence % {"typed": typed, "small": decimal(small), "large": large}


def need_one_way(text: str) -> str:
    """The text as it is. Raises `UnitError` for a number that can be read in two ways."""
    doubt = doubt_of(text)
    if doubt is not None:
        raise UnitError(doubt, text=text)
    return text


def typed_number(text: str) -> float:
    """A plain number as typed. Raises `UnitError` for what is none, or can be two."""
    return units.number(need_one_way(text))


class TypedField(forms.CharField):
    """Text with a number in it; one that can be read in two ways is asked about."""

    def clean(self, value: Any) -> Any:
        """The text typed."""
        text = super().clean(value)
        doubt = doubt_of(str(text or ""))
        if doubt is not None:
            raise ValidationError(doubt, code="two_ways")
        return text

    def get_bound_field(self, form: forms.BaseForm, field_name: str) -> forms.BoundField:
        """Django's way to give a field its place in a form."""
        return Offered(form, self, field_name)
