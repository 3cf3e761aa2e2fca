"""Texts of the pages and their translations: found in templates and code, kept in a catalogue, compiled for Django.

As a program (``python -m lapwright.testing.messages de``) it brings the catalogue of a language up to date: new texts
come in empty, those that are gone go, and the compiled file is written. `--missing` writes nothing, lists what is not
translated and ends with 1 if there is any. Two runs at once wait for each other.
"""

from __future__ import annotations

import ast
import fcntl
import io
import os
import re
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from lapwright.testing.sentences import sentences
from lapwright.web import glossary

PACKAGE = Path(__file__).parents[1]
LOCALE = PACKAGE / "web" / "locale"
#: Names that texts are marked with -> which arguments are text: context, one, many.
CALLS = {
    "_": (None, 0, None), "_now": (None, 0, None), "gettext": (None, 0, None), "gettext_lazy": (None, 0, None),
    "ngettext": (None, 0, 1), "ngettext_lazy": (None, 0, 1), "pgettext": (0, 1, None), "pgettext_lazy": (0, 1, None),
}  # fmt: skip
UNITS = "µm/min|µm|nm|mm²|mm|m/s|kPa|MPa|GPa|K/min|K|°C|min|ml/min|ml|kg|mg|ppm|MB|GB|kB|1/min|%%|%|N"
#: A number, or the place of one, and the unit behind it, with a blank between that a line may break at.
APART = re.compile(
    rf"(?:(?<=[\d}})])|(?<=\)[sd])|(?<=\.\df)) (?=(?:{UNITS})(?!\w))|(?<=\d) (?=[hsg](?!\w))|(?<=±) (?=[\d{{%])"
)


@dataclass(frozen=True, slots=True, order=True)
class Message:
    """One text: its context, the text for one, and the text for many where it has both."""

    one: str
    many: str = ""
    context: str = ""

    @property
    def key(self) -> str | tuple[str, str]:
        """As a catalogue holds it."""
        return (self.one, self.many) if self.many else self.one


def messages() -> tuple[Message, ...]:
    """All texts of code and templates, and the sentences of the layers below them."""
    found = {one for path in PACKAGE.rglob("*.py") for one in _of_code(path)}
    found |= {one for path in (PACKAGE / "web" / "templates").rglob("*.html") for one in _of_template(path)}
    found |= {Message(one, context="sentence") for one in sentences()}
    found |= {Message(one, context=glossary.CONTEXT) for one in glossary.translatable()}
    return tuple(sorted(found))


def catalogue(language: str) -> Catalog:
    """The kept translations of a language."""
    path = _path(language)
    if not path.exists():
        return Catalog(locale=language, fuzzy=False)
    with path.open("rb") as file:
        return read_po(file, locale=language)


def updated(language: str) -> Catalog:
    """A catalogue of just the present texts, with the translations kept so far."""
    present = messages()  # takes a while, so before the catalogue is read: what is translated meanwhile is kept
    kept = catalogue(language)
    fresh = Catalog(
        locale=language, project="Lapwright", version="", copyright_holder="", msgid_bugs_address="", fuzzy=False,
        header_comment="# Texts of the pages. Brought up to date by lapwright.testing.messages.",
        creation_date=kept.creation_date, revision_date=kept.revision_date,
    )  # fmt: skip
    for message in present:
        old = kept.get(message.one, context=message.context or None)
        text: Any = "" if old is None or old.fuzzy else old.string
        if bool(message.many) != isinstance(text, tuple | list):
            text = ("",) * fresh.num_plurals if message.many else ""
        fresh.add(message.key, text, context=message.context or None)
    return fresh


def missing(catalog: Catalog) -> tuple[str, ...]:
    """Texts without a translation."""
    return tuple(
        one.id if isinstance(one.id, str) else one.id[0]
        for one in catalog
        if one.id and not (all(one.string) if isinstance(one.string, tuple | list) else one.string)
    )


def compiled(catalog: Catalog) -> bytes:
    """A catalogue as Django reads it."""
    file = io.BytesIO()
    write_mo(file, catalog)
    return file.getvalue()


def keep(language: str, catalog: Catalog) -> None:
    """Write a catalogue and its compiled form; numbers and their units are kept on one line."""
    for one in (each for each in catalog if each.id):
        text = one.string or ""
        one.string = together(text) if isinstance(text, str) else tuple(map(together, text))
    path = _path(language)
    path.parent.mkdir(parents=True, exist_ok=True)
    file = io.BytesIO()
    write_po(file, catalog, width=0, omit_header=False, sort_output=True, no_location=True)
    _replace(path, file.getvalue())
    _replace(path.with_suffix(".mo"), compiled(catalog))


@contextmanager
def alone(language: str) -> Iterator[None]:
    """Nobody else reads a catalogue to write it: a second run waits here until the first has written."""
    place = _path(language).parent
    place.mkdir(parents=True, exist_ok=True)
    folder = os.open(place, os.O_RDONLY)
    try:
        fcntl.flock(folder, fcntl.LOCK_EX)
        yield
    finally:
        os.close(folder)


def together(text: str) -> str:
    r"""A text whose numbers stay with their units, by a no-break blank.

    >>> together("unter 25 nm, ± %(u)s µm")
    'unter 25\xa0nm, ±\xa0%(u)s\xa0µm'
    """
    return APART.sub("\u00a0", text)


def main(arguments: list[str]) -> int:
    """Bring languages up to date."""
    listing = "--missing" in arguments
    found = False
    for language in (one for one in arguments if not one.startswith("-")):
        with alone(language):
            catalog = updated(language)
            if not listing:
                keep(language, catalog)
        lacking = missing(catalog)
        sys.stdout.write(f"{language}: {len(catalog)} texts, {len(lacking)} not translated\n")
        if listing:
            sys.stdout.writelines(f"{one!r}\n" for one in lacking)
            found = found or bool(lacking)
    return int(found)


# ----------------------------------------------------------------------------------------------------------------------


def _replace(path: Path, content: bytes) -> None:
    """Whoever reads it at the same time finds the old file or the new one, never half of it."""
    beside = path.with_name(f"{path.name}.{os.getpid()}")
    beside.write_bytes(content)
    beside.replace(path)


def _path(language: str) -> Path:
    return LOCALE / language / "LC_MESSAGES" / "django.po"


def _of_code(path: Path) -> Iterator[Message]:
    text = path.read_text(encoding="utf-8")
    if "gettext" not in text:
        return
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in CALLS:
            context, one, many = (_constant(node.args, place) for place in CALLS[node.func.id])
            if one:
                yield Message(one, many, context)


def _constant(arguments: list[ast.expr], place: int | None) -> str:
    if place is None or place >= len(arguments):
        return ""
    node = arguments[place]
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""


def _of_template(path: Path) -> Iterator[Message]:
    from django.template import Engine
    from django.template.base import Node, Origin, Template

    engine = Engine.get_default()
    name = path.relative_to(PACKAGE / "web" / "templates").as_posix()
    template = Template(path.read_text(encoding="utf-8"), Origin(str(path), name), name, engine)
    yield from _of_nodes(template.nodelist.get_nodes_by_type(Node))


def _of_nodes(nodes: Iterable[Any]) -> Iterator[Message]:
    """Translated nodes, and texts marked inside the arguments of other tags and filters."""
    from django.template.base import FilterExpression
    from django.templatetags.i18n import BlockTranslateNode, TranslateNode

    for node in nodes:
        if isinstance(node, BlockTranslateNode):
            one, _variables = node.render_token_list(node.singular)
            many = node.render_token_list(node.plural)[0] if node.plural and node.countervar else ""
            if node.trimmed:
                one, many = " ".join(one.split()), " ".join(many.split())
            yield Message(one, many)
        elif isinstance(node, TranslateNode) and isinstance(node.filter_expression.var.literal, str):
            yield Message(str(node.filter_expression.var.literal).replace("%", "%%"))
        else:
            for part in _values(node):
                if isinstance(part, FilterExpression):
                    yield from _of_expression(part)


def _of_expression(expression: Any) -> Iterator[Message]:
    """Texts of an expression that are marked with `_("…")`; Django keeps them as texts still to be translated."""
    from django.utils.functional import Promise

    for part in (expression.var, *(argument for _name, given in expression.filters for _is_var, argument in given)):
        if isinstance(part, Promise):
            yield Message(str(part))


def _values(node: Any) -> Iterator[Any]:
    for value in vars(node).values():
        if isinstance(value, list | tuple):
            yield from value
        elif isinstance(value, dict):
            yield from value.values()
        else:
            yield value


if __name__ == "__main__":
    import tempfile

    from lapwright.testing.records import start_records

    with tempfile.TemporaryDirectory() as place:
        start_records(Path(place))
        sys.exit(main(sys.argv[1:]))
