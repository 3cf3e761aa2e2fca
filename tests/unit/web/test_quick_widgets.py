"""Widgets drawn without templates: the same text as Django's own templates give, the reference."""

import pytest
from django import forms
from django.forms.renderers import DjangoTemplates
from django.utils import translation
from django.utils.safestring import mark_safe
from django.utils.translation import gettext_lazy

from lapwright.web.quick_widgets import QuickWidgets

OURS, DJANGOS = QuickWidgets(), DjangoTemplates()
ODD = "<b> \"a\" & 'b' µm"
CHOICES = [("", gettext_lazy("Wafer")), (1.5, ODD), (7, 1234.5), (ODD, mark_safe("&amp;")), ("group", [("x", "X"), ("y", ODD)]), (None, 8)]  # fmt: skip
WIDGETS = [
    *(kind(attrs={"class": ODD, "required": True, "hidden": False, "data-n": 3})
      for kind in (forms.TextInput, forms.HiddenInput, forms.NumberInput, forms.EmailInput, forms.URLInput,
                   forms.FileInput, forms.PasswordInput, forms.CheckboxInput, forms.DateInput, forms.TimeInput,
                   forms.DateTimeInput, forms.Textarea, forms.ClearableFileInput)),
    forms.Select(choices=CHOICES, attrs={"id": "s"}), forms.SelectMultiple(choices=CHOICES),
    forms.RadioSelect(choices=CHOICES), forms.CheckboxSelectMultiple(choices=CHOICES),
]  # fmt: skip


@pytest.mark.parametrize("language", ["en", "de"])
def test_widgets_are_drawn_as_by_the_templates_of_django(started_records, language):  # noqa: ARG001  a configured program
    """Values with marks of HTML, none, numbers, lists and what was translated."""
    with translation.override(language):
        for widget in WIDGETS:
            for value in (None, "", "x", ODD, 1.5, 7, True, ["x", ODD]):
                if isinstance(value, list) and not getattr(widget, "allow_multiple_selected", False):
                    continue
                drawn, expected = (widget.render(f"n{ODD}", value, renderer=one) for one in (OURS, DJANGOS))
                assert str(drawn) == str(expected), (type(widget), value)


def test_a_choice_with_a_template_of_its_own_keeps_it(started_records):  # noqa: ARG001  a configured program
    """Such a list is drawn by its template."""
    from django.forms.widgets import Select

    class Other(Select):
        option_template_name = "django/forms/widgets/input_option.html"

    widget = Other(choices=[("a", "A")])
    assert str(widget.render("n", "a", renderer=OURS)) == str(widget.render("n", "a", renderer=DJANGOS))
