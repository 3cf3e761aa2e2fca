"""Looking up the elements of a QIF document, with a sentence for everything that is not as the standard has it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from decimal import ROUND_HALF_EVEN, Context, Decimal
from xml.etree import ElementTree as ET

from lapwright.errors import FileFormatError
from lapwright.formats.qif_names import NAMESPACE

_DECIMAL = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)")
MOST_DIGITS = 60
MOST_DECIMALS = 30
#: Wide enough that nothing read here is rounded in a sum.
EXACT = Context(prec=2 * MOST_DIGITS)


def tag_of(element: ET.Element) -> str:
    """The name of an element without its namespace."""
    return element.tag.rpartition("}")[2]


class Elements:
    """The elements of one document; `fault` makes the error for whatever they do not hold."""

    def __init__(self, root: ET.Element, name: str) -> None:
        self.root, self._name = root, name

    def fault(self, found: str, expected: str) -> FileFormatError:
        """What was found and what was expected, as the error to raise."""
        return FileFormatError(f"{self._name} {found}; expected: {expected}. Have the file written again.")

    def need_root(self, tag: str, *, versions: str) -> None:
        """Refuse a document of another kind or version."""
        if self.root.tag != f"{{{NAMESPACE}}}{tag}":
            raise self.fault(f"begins with {tag_of(self.root)[:40]!r}", f"{tag} of QIF 3")
        version = self.root.get("versionQIF", "")
        if not version.startswith(versions):
            raise self.fault(f"is of version {version[:20]!r}", f"version {versions}x")

    def by_id(self) -> dict[str, ET.Element]:
        """Every element that has an id; an id that stands twice is refused."""
        known: dict[str, ET.Element] = {}
        for element in self.root.iter():
            own = element.get("id")
            if own is None:
                continue
            if own in known:
                raise self.fault(f"gives the id {own[:20]!r} twice", "one entry for each id")
            known[own] = element
        return known

    def maybe(self, parent: ET.Element, path: str) -> ET.Element | None:
        """The first element at a path, if there is one."""
        return parent.find(_qualified(path))

    def one(self, parent: ET.Element, path: str) -> ET.Element:
        """The first element at a path; refused when there is none."""
        found = self.maybe(parent, path)
        if found is None:
            raise self.fault(f"has no {path} in {tag_of(parent)}", path)
        return found

    def all(self, parent: ET.Element, path: str) -> list[ET.Element]:
        """All elements at a path."""
        return parent.findall(_qualified(path))

    def text(self, parent: ET.Element | None, path: str) -> str:
        """The text at a path, its spaces collapsed; empty when there is none."""
        found = None if parent is None else self.maybe(parent, path)
        return "" if found is None else " ".join((found.text or "").split())

    def counted(self, listed: ET.Element) -> Iterator[ET.Element]:
        """The entries of a list; refused when they are not as many as the list says."""
        entries = list(listed)
        stated = listed.get("n", "")
        if stated != str(len(entries)):
            tag = tag_of(listed)[:60]
            raise self.fault(f"says {stated[:20]!r} entries in {tag} and holds {len(entries)}", "all of them")
        return iter(entries)

    def attributes(self, parent: ET.Element) -> dict[str, str]:
        """The marks of an element by name."""
        marks = self.maybe(parent, "Attributes")
        return {} if marks is None else {one.get("name", ""): one.get("value", "") for one in marks}

    def decimal(self, text: str, what: str) -> Decimal:
        """A decimal number as the schema has it: digits and a point, no exponent."""
        text = text.strip()
        if len(text) > MOST_DIGITS or not _DECIMAL.fullmatch(text):
            raise self.fault(f"holds {text[:40]!r} for {what[:60]}", "a decimal number")
        return Decimal(text)

    def specified(self, value: Decimal, decimals: str | None) -> Decimal:
        """A number rounded to the decimals stated beside it, as the standard has it; as it stands if there are none."""
        if decimals is None:
            return value
        if not (decimals.isascii() and decimals.isdigit() and len(decimals) < 4 and int(decimals) <= MOST_DECIMALS):
            raise self.fault(f"states {decimals[:20]!r} decimals", f"a whole number up to {MOST_DECIMALS}")
        return value.quantize(Decimal(1).scaleb(-int(decimals)), ROUND_HALF_EVEN, EXACT)

    def moment(self, text: str) -> datetime:
        """A date with its time."""
        try:
            return datetime.fromisoformat(text)
        except ValueError as fault:
            raise self.fault(f"states the time {text[:40]!r}", "a date and time") from fault


# ----------------------------------------------------------------------------------------------------------------------


def _qualified(path: str) -> str:
    return "/".join(f"{{{NAMESPACE}}}{step}" for step in path.split("/"))
