"""The forms of pages as a browser would send them, and a walk along the links of pages to find them all."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urljoin, urlsplit

_SILENT = ("submit", "button", "image", "reset")


@dataclass(slots=True, kw_only=True)
class Field:
    """A field: its name, what kind it is, what it holds, and what it can hold where that is told."""

    name: str
    kind: str
    value: str | None = ""
    choices: tuple[str, ...] = ()


@dataclass(slots=True, kw_only=True)
class Form:
    """A form that is sent by POST: the page it stands on, where it goes, and its fields in their order."""

    page: str
    address: str
    fields: list[Field] = field(default_factory=list)
    has_files: bool = False

    def sent(self) -> list[tuple[str, str]]:
        """What a browser sends of it untouched, with its first button."""
        buttons = [one for one in self.fields if one.kind in _SILENT and one.name][:1]
        held = [one for one in self.fields if one.kind not in (*_SILENT, "file")] + buttons
        return [(one.name, one.value) for one in held if one.value is not None]


def forms_of(text: str, page: str) -> list[Form]:
    """The forms of a page that are sent by POST."""
    reader = _Reader(page)
    reader.feed(text)
    return reader.forms


def links_of(text: str, page: str) -> list[str]:
    """The addresses on the same server that a page leads to, without what stands behind `#`."""
    reader = _Reader(page)
    reader.feed(text)
    return reader.links


def walk(
    ask: Callable[[str], str | None], kind_of: Callable[[str], str], *, begin: str = "/", of_a_kind: int = 2
) -> Iterator[tuple[str, str]]:
    """Pages by following links, each with its text; at most so many of a kind. `ask` gives None for what is no page."""
    seen, waiting, kinds = {begin}, deque([begin]), Counter[str]()
    while waiting:
        address = waiting.popleft()
        text = ask(address)
        if text is None:
            continue
        yield address, text
        for link in links_of(text, address):
            kind = kind_of(link)
            if link not in seen and kinds[kind] < of_a_kind:
                seen.add(link)
                kinds[kind] += 1
                waiting.append(link)


# ----------------------------------------------------------------------------------------------------------------------


class _Reader(HTMLParser):
    """Reads forms and links; a field outside of its form is told by its attribute `form`."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.page, self.forms, self.links = page, [], []  # type: ignore[var-annotated]
        self._by_name: dict[str, Form] = {}
        self._form: Form | None = None
        self._select: Field | None = None
        self._area: Field | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """A form, a field of one, or a link."""
        given = {name: value or "" for name, value in attrs}
        if tag == "a" and given.get("href", "").startswith(("/", "?")) and "download" not in given:
            self.links.append(urljoin(self.page, given["href"]).split("#")[0])
        elif tag == "form":
            self._begin(given)
        elif tag == "option" and self._select is not None:
            value = given.get("value", "")
            self._select.choices += (value,)
            if "selected" in given or self._select.value is None:
                self._select.value = value
        elif tag in ("input", "select", "textarea", "button") and "name" in given and "disabled" not in given:
            self._take(tag, given)

    def handle_endtag(self, tag: str) -> None:
        """The end of a form or of a field with content."""
        if tag == "form":
            self._form = None
        elif tag == "select":
            self._select = None
        elif tag == "textarea":
            self._area = None

    def handle_data(self, data: str) -> None:
        """What stands in a large box; the line break after its beginning is none of it."""
        if self._area is not None:
            self._area.value = (self._area.value or "") + (data.removeprefix("\n") if not self._area.value else data)

    def _begin(self, given: dict[str, str]) -> None:
        self._form = None
        if given.get("method", "").lower() == "post":
            address = urlsplit(urljoin(self.page, given.get("action") or self.page))
            self._form = Form(page=self.page, address=address.path + (f"?{address.query}" if address.query else ""))
            self._form.has_files = "enctype" in given
            self.forms.append(self._form)
            self._by_name[given.get("id", "")] = self._form

    def _take(self, tag: str, given: dict[str, str]) -> None:
        form = self._by_name.get(given["form"]) if "form" in given else self._form
        if form is None:
            return
        kind = given.get("type", "submit" if tag == "button" else "text") if tag in ("input", "button") else tag
        one = Field(name=given["name"], kind=kind, value=given.get("value", ""))
        if kind in ("radio", "checkbox") and "checked" not in given:
            one.choices, one.value = (given.get("value", "on"),), None
        elif kind == "checkbox":
            one.value = given.get("value", "on")
        elif tag == "select":
            one.value, self._select = None, one
        elif tag == "textarea":
            self._area = one
        form.fields.append(one)
