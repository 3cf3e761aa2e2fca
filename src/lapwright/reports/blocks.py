"""A printed page as plain blocks, and the one way to turn them into HTML.

Certificate (HTML and PDF) and traveller are laid out from the same few blocks, so that what one paper says the other
says too. Texts are plain text until the last moment; only drawings of our own pass as markup.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib import resources
from typing import Literal

from lapwright.reports.drawing.ink import clean, without_data

Tone = Literal["plain", "notice", "caution", "small", "large"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """A heading; level 1 is the title of the paper. `new_page` begins a fresh sheet."""

    text: str
    level: int = 2
    new_page: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A paragraph."""

    text: str
    tone: Tone = "plain"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairs:
    """Names and what they are, set in as many columns as fit."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table with a head.

    `numbers` names the columns set flush right, `stretch` the column that takes the room left over, `spread` sets the
    rows in so many tables side by side; `ruled` leaves room to write by hand. `bars` draws a bar a row into the last
    column, as long as its share of one; such a table is not spread.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: frozenset[int] = frozenset()
    caption: str = ""
    spread: int = 1
    stretch: int = 0
    ruled: bool = False
    bars: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictures:
    """Drawings side by side: SVG text and a description in words."""

    svgs: tuple[str, ...]
    alts: tuple[str, ...]
    note: str = ""


Block = Heading | Text | Pairs | Table | Pictures


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A whole paper: language, title, and its blocks in order; `footer` stands at the foot of each sheet."""

    language: str
    title: str
    blocks: tuple[Block, ...]
    footer: str = ""


def paper_html(paper: Paper) -> str:
    """One self-contained HTML file: style and drawings inside, no script, nothing fetched."""
    style = resources.files("lapwright.reports").joinpath("templates", "paper.css").read_text("utf-8")
    body = "\n".join(_block_html(block) for block in paper.blocks)
    return (
        f'<!DOCTYPE html>\n<html lang="{clean(paper.language)}">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{clean(paper.title)}</title>\n<style>\n{style}</style>\n</head>\n<body>\n<main>\n{body}\n</main>\n"
        f"<footer>{clean(paper.footer)}</footer>\n</body>\n</html>\n"
    )


# ----------------------------------------------------------------------------------------------------------------------


def _block_html(block: Block) -> str:
    match block:
        case Heading():
            fresh = ' class="new-sheet"' if block.new_page else ""
            return f"<h{block.level}{fresh}>{clean(block.text)}</h{block.level}>"
        case Text():
            return f'<p class="{block.tone}">{clean(block.text)}</p>'
        case Pairs():
            rows = "".join(f"<div><dt>{clean(name)}</dt><dd>{clean(what)}</dd></div>" for name, what in block.rows)
            return f"<dl>{rows}</dl>"
        case Table():
            return _table_html(block)
        case Pictures():
            note = f"<figcaption>{clean(block.note)}</figcaption>" if block.note else ""
            return f'<figure class="pictures">{"".join(map(without_data, block.svgs))}{note}</figure>'


def _table_html(table: Table) -> str:
    """A table; one that is spread becomes several beside each other, filled column by column."""
    caption = f"<caption>{clean(table.caption)}</caption>" if table.caption else ""
    parts = spread_rows(table)
    kind = ' class="ruled"' if table.ruled else ""
    bars = table.bars or (None,) * len(table.rows)
    tables = [
        f"<table{kind}>{caption if i == 0 else ''}<thead>{_row_html(table.head, table, 'th')}</thead>"
        f"<tbody>{''.join(_row_html(row, table, 'td', bar) for row, bar in zip(rows, bars, strict=False))}"
        "</tbody></table>"
        for i, rows in enumerate(parts)
    ]
    return tables[0] if len(tables) == 1 else f'<div class="spread">{"".join(tables)}</div>'


def spread_rows(table: Table) -> list[tuple[tuple[str, ...], ...]]:
    """The rows of a table in `spread` parts of nearly equal length, the first the longest."""
    long = max(1, -(-len(table.rows) // table.spread))
    return [table.rows[i : i + long] for i in range(0, len(table.rows), long)] or [()]


def _row_html(cells: tuple[str, ...], table: Table, tag: str, bar: float | None = None) -> str:
    drawn = [f"<{tag}{_kind(i, table)}>{clean(cell)}</{tag}>" for i, cell in enumerate(cells)]
    if bar is not None:
        drawn[-1] = f'<td class="barred"><span>{clean(cells[-1])}</span> {_bar(bar)}</td>'
    return f"<tr>{''.join(drawn)}</tr>"


def _kind(column: int, table: Table) -> str:
    return ' class="number"' if column in table.numbers else ""


def _bar(share: float) -> str:
    return (
        '<svg viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">'
        '<rect class="ground" width="100" height="10"/>'
        f'<rect class="bar" width="{100.0 * share:.1f}" height="10"/></svg>'
    )
