"""Numbers of a page that nobody can ask why: what the walk over the pages of the demonstration holds each page to.

Told is each number that stands in a place of its own: behind its name in a list, in a column of numbers, as the large
value of a page. A why is near that stands in the same item, row or cell, in the head of its column or table, or in the
nearest heading above it. What a person entered, or a file or a catalogue gave, has no why; it is named in `GIVEN`.

Of each kind of number one why is followed: it must work the number out.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

#: What is entered, ordered, read or looked up and not computed: (name of the address, name or column of the number).
GIVEN = frozenset({
    ("answer", "As typed"), ("answer", "Value µm"),
    ("board_shop", "Wafers at once"),
    ("gauge", "Accuracy limit"), ("gauge", "Certificate files"), ("gauge", "Deviation left"),
    ("gauge", "Due, as recorded"), ("gauge", "Resolution"), ("gauge", "Sets"), ("gauge", "Verdicts"),
    ("gauge", "Wafers"),
    ("job_sheet", "Due"), ("job_sheet", "Target thickness"),
    ("lot", "Came on"), ("lot", "Good until"),
    ("orders", "Pieces"),
    ("plate", "Can be set"), ("plate", "Limit"), ("plate", "Ring stands at"), ("plate", "Running h"),
    ("plate", "Speed over the plate's"),
    ("plate_map", "Read µm"), ("plate_map", "When"), ("plate_map", "y mm"),
    ("rates", "Lots"), ("rates", "Runs"),
    ("set", "As typed"), ("set", "Thickness µm"),
    ("station", "Slurry put on"),
    ("study", "As typed"), ("study_sheet", "No."),
    ("traveller", "Due"), ("traveller", "Edge exclusion"), ("traveller", "From"), ("traveller", "Piece"),
    ("traveller", "Pieces"), ("traveller", "Ra"), ("traveller", "TTV"), ("traveller", "Thickness"),
    ("waste", "Date"),
})  # fmt: skip
_NUMBER = re.compile(r"^[-−+±<>≤≥×~ ]*\d")
_WHY = re.compile(r'href="(/help/why/[a-z_]+\?[^"]+)"')
_WORKED_OUT = '<p class="value">'
_VOID = frozenset({"br", "hr", "img", "input", "link", "meta", "wbr", "col", "source"})
_HEADINGS = frozenset({"h1", "h2", "h3", "h4"})
_LARGE = frozenset({"value", "dial", "large"})
_READ = frozenset({"dd", "dt", "td", "th"})
_UNREAD = frozenset({"svg", "script", "style", "template", "select", "textarea"})


@dataclass(slots=True)
class Node:
    """An element of a page: its tag, classes, what is read of it, whether a why stands in it, and where it stands."""

    tag: str
    classes: frozenset[str]
    head: str
    span: int
    parent: Node | None
    children: list[Node] = field(default_factory=list)
    text: str = ""
    is_why: bool = False
    has_why: bool = False

    def walk(self) -> Iterator[Node]:
        """It and all in it, in the order of the page."""
        yield self
        for one in self.children:
            yield from one.walk()

    def around(self, *tags: str) -> Node | None:
        """The nearest element of such a kind that it stands in."""
        one = self.parent
        while one is not None and one.tag not in tags:
            one = one.parent
        return one


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.top = Node(tag="", classes=frozenset(), head="", span=1, parent=None)
        self._at = self.top

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = dict(attrs)
        classes = frozenset((told.get("class") or "").split())
        span = int(told.get("colspan") or 1)
        head = told.get("data-head") or ""
        made = Node(tag=tag, classes=classes, head=head, span=span, parent=self._at, is_why="why" in classes)
        self._at.children.append(made)
        one: Node | None = made if made.is_why else None
        while one is not None and not one.has_why:  # what stands in an element stands in all around it
            one.has_why, one = True, one.parent
        if tag not in _VOID:
            self._at = made

    def handle_endtag(self, tag: str) -> None:
        one: Node | None = self._at
        while one is not None and one.tag != tag:
            one = one.parent
        if one is not None and one.parent is not None:
            self._at = one.parent

    def handle_data(self, data: str) -> None:
        one: Node | None = self._at
        while one is not None:  # what is read of an element is read of all it stands in
            if one.tag in _UNREAD or one.is_why:
                return
            if one.tag in _READ or one.classes & _LARGE:
                one.text += data
            one = one.parent


def look(pages: Iterable[tuple[str, str, str]], ask: Callable[[str], str]) -> tuple[list[str], list[str], list[str]]:
    """Numbers without a why, whys that work nothing out, and the kinds met; `ask` gives the text of an address."""
    short: set[str] = set()
    kinds: dict[str, str] = {}
    for name, address, text in pages:
        short |= {f"{address}: {named}" for _, named in unexplained(name, text) - GIVEN}
        for link in asked_of(text):
            kinds.setdefault(link.partition("?")[0].rpartition("/")[2], link)
    silent = [link for link in kinds.values() if _WORKED_OUT not in ask(link)]
    return sorted(short), silent, sorted(kinds)


def asked_of(text: str) -> list[str]:
    """Addresses of the whys that a page leads to, in its order."""
    return [html.unescape(link) for link in _WHY.findall(text)]


def unexplained(name: str, text: str) -> set[tuple[str, str]]:
    """Numbers of a page with no why near, as (name of the address, name or column of the number)."""
    reader = _Reader()
    reader.feed(text[text.find("<main") : text.find("</main")])
    found = set()
    explained = False
    for one in reader.top.walk():
        if one.tag in _HEADINGS:
            explained = one.has_why
        if _is_number(one) and not explained and not _is_near(one):
            found.add((name, _name(one)))
    return found


# ----------------------------------------------------------------------------------------------------------------------


def _is_number(one: Node) -> bool:
    placed = one.tag == "dd" or (one.tag == "td" and "num" in one.classes) or bool(one.classes & _LARGE)
    typed = any(each.tag in ("input", "label") for each in one.walk())
    return placed and not typed and bool(_NUMBER.match(one.text.strip()))


def _is_near(one: Node) -> bool:
    item = one.parent if one.tag == "dd" and one.parent is not None and one.parent.tag == "div" else one
    if item.has_why or _term(one).has_why:
        return True
    folded = one.around("details")
    if folded is not None and any(each.has_why for each in folded.children if each.tag in ("summary", "p")):
        return True
    cell = one if one.tag == "td" else one.around("td", "th")
    row, table = one.around("tr"), one.around("table")
    if cell is not None and row is not None and table is not None:
        captions = any(each.has_why for each in table.children if each.tag == "caption")
        return captions or row.has_why or _column(cell, row, table).has_why
    card = one.around("article", "li", "section")
    return card is not None and any(each.has_why for each in card.children if each.tag in ("h2", "h3", "header"))


def _column(cell: Node, row: Node, table: Node) -> Node:
    """The head of a cell's column; the cell itself where the table has none."""
    before = sum(each.span for each in row.children[: row.children.index(cell)])
    for head in (each for each in table.walk() if each.tag == "tr" and each is not row):
        at = 0
        for each in head.children:
            if at <= before < at + each.span and each.tag == "th":
                return each
            at += each.span
        break
    return cell


def _term(one: Node) -> Node:
    """The name that a number of a list stands behind; the number itself where it has none."""
    if one.tag != "dd" or one.parent is None:
        return one
    beside = one.parent.children
    return next((each for each in reversed(beside[: beside.index(one)]) if each.tag == "dt"), one)


def _name(one: Node) -> str:
    named = one.head
    if not named and one.tag == "dd":
        named = _term(one).text
    if not named and one.tag == "td":
        row, table = one.around("tr"), one.around("table")
        named = "" if row is None or table is None else _column(one, row, table).text
    return " ".join((named or re.sub(r"[\d.,]+", "#", one.text)).split())[:60]
