"""Fields of forms drawn without templates: the same text as Django's own, in a fraction of the time.

A list of all wafers holds hundreds of choices, each of which Django draws by two templates of its own. What is drawn
here is what every page is full of; any other widget goes to its template.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.forms.renderers import DjangoTemplates
from django.http import HttpRequest
from django.utils.formats import localize
from django.utils.functional import Promise
from django.utils.html import conditional_escape
from django.utils.safestring import SafeString

_OF = "django/forms/widgets/"
_INPUTS = ("checkbox", "color", "date", "datetime", "email", "file", "hidden", "input", "number", "password", "search",
           "tel", "text", "time", "url")  # fmt: skip

Widget = Mapping[str, Any]


class QuickWidgets(DjangoTemplates):
    """Django's way to draw forms, with inputs, lists and texts drawn here."""

    def render(self, template_name: str, context: dict[str, Any], request: HttpRequest | None = None) -> SafeString:
        """The widget of a context as HTML."""
        draw = _DRAWN.get(template_name)
        found = None if draw is None else draw(context["widget"])
        if found is None:
            return SafeString(super().render(template_name, context, request))
        return SafeString(found)  # each value in it is escaped where it is put in


# ----------------------------------------------------------------------------------------------------------------------


def _input(widget: Widget) -> str:
    value = "" if widget["value"] is None else f' value="{_escaped(widget["value"])}"'
    return f'<input type="{_escaped(widget["type"])}" name="{_escaped(widget["name"])}"{value}{_attributes(widget)}>'


def _textarea(widget: Widget) -> str:
    told = _shown(widget["value"]) if widget["value"] else ""
    return f'<textarea name="{_escaped(widget["name"])}"{_attributes(widget)}>\n{told}</textarea>'


def _select(widget: Widget) -> str | None:
    parts = [f'<select name="{_escaped(widget["name"])}"{_attributes(widget)}>']
    for name, options, _index in widget["optgroups"]:
        if name:
            parts.append(f'\n  <optgroup label="{_shown(name)}">')
        for one in options:
            if one["template_name"] != f"{_OF}select_option.html":
                return None
            parts.append(
                f'\n  <option value="{_escaped(one["value"])}"{_attributes(one)}>{_shown(one["label"])}</option>\n'
            )
        if name:
            parts.append("\n  </optgroup>")
    return "".join((*parts, "\n</select>"))


_DRAWN: dict[str, Callable[[Widget], str | None]] = {
    **{f"{_OF}{name}.html": _input for name in _INPUTS},
    f"{_OF}textarea.html": _textarea,
    f"{_OF}select.html": _select,
}


def _attributes(widget: Widget) -> str:
    return "".join(
        f" {_escaped(name)}" if value is True else f' {_escaped(name)}="{_escaped(value)}"'
        for name, value in widget["attrs"].items()
        if value is not False
    )


def _escaped(value: Any) -> str:
    """A value as it is."""
    return conditional_escape(value if isinstance(value, str) else str(value))


def _shown(value: Any) -> str:
    """A value as pages show it, numbers in the manner of the language."""
    return _escaped(value if isinstance(value, str | Promise) else localize(value))
