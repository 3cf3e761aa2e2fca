"""What is typed into a form with a decimal mark: offered with that of the page's language, taken with point or comma.

Such a field is text, never a number field of the browser: that one knows only the mark of the browser's own language,
and in some browsers drops the other without a word, so that 1,5 becomes 15.
"""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.functional import cached_property

from lapwright.web.sentences import decimal


class Offered(forms.BoundField):
    """A field of a form, with what it offers printed in the language of the page; what was typed stays as typed."""

    @cached_property
    def initial(self) -> Any:
        """What stands in it before anybody typed."""
        value = super().initial
        text = f"{value:.10g}" if isinstance(value, float | int) and not isinstance(value, bool) else value
        return decimal(text) if isinstance(text, str) else text


class TypedField(forms.CharField):
    """Text with a number in it."""

    def get_bound_field(self, form: forms.BaseForm, field_name: str) -> forms.BoundField:
        """Django's way to give a field its place in a form."""
        return Offered(form, self, field_name)
