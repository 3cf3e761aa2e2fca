"""A paper of blocks as a tagged PDF with its data inside; the same paper gives the same bytes."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date
from importlib import resources

from lapwright.reports.blocks import Block, Paper, Table, spread_rows
from lapwright.reports.drawing.ink import readable

SERIF = "Libertinus Serif"


def paper_pdf(paper: Paper, *, author: str, issued: date, page: str, file: tuple[str, str]) -> bytes:
    """The paper as PDF/A-3a in the typesetter's own letters, with a file (name, JSON text) attached.

    `page` is the word for a page at its foot. A text with other letters needs a font of the system and gives plain PDF.
    """
    handed = {
        "language": paper.language,
        "title": paper.title,
        "author": author,
        "issued": [issued.year, issued.month, issued.day],
        "page": page,
        "footer": paper.footer,
        "fonts": [SERIF, "DejaVu Sans Mono"],
        "blocks": [_block_data(block) for block in paper.blocks],
        "file": {"name": file[0], "text": file[1]},
    }
    return _typeset(readable(json.dumps(handed, ensure_ascii=False)))


# ----------------------------------------------------------------------------------------------------------------------


def _typeset(handed: str) -> bytes:
    import typst

    template = resources.files("lapwright.reports").joinpath("templates", "paper.typ").read_bytes()
    given = {"paper": handed}
    pdf: bytes
    try:
        pdf = typst.compile(template, format="pdf", sys_inputs=given, ignore_system_fonts=True, pdf_standards="a-3a")
    except typst.TypstError:
        pdf = typst.compile(template, format="pdf", sys_inputs=given)
    return pdf


def _block_data(block: Block) -> dict[str, object]:
    """What the typesetter is handed: nothing but data."""
    handed: dict[str, object] = {"kind": type(block).__name__.lower(), **asdict(block)}
    if isinstance(block, Table):
        handed["numbers"] = sorted(block.numbers)
        handed["parts"] = spread_rows(block)
        del handed["rows"]
    return handed
