"""All drawings of all pages over a data folder: ``python -m lapwright.testing.plots DATA ORDER [ADDRESS...]``.

The pages are asked for in process, from Hands and the addresses given along every link, one or two of each kind, those
of the order first. Each drawing must have a name, a sentence that says what it shows, a way to come to it by the keys,
and its numbers; the page offers to save what has them. Each computed number of the same pages must have a why beside it
(`whys`). What falls short is printed, with what was seen, as JSON.
"""

from __future__ import annotations

import csv
import html
import io
import json
import re
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

from lapwright.testing import whys

#: How many addresses are looked at of a kind.
MOST = {"wafer": 2, "bond_line": 2, "document": 0, "logout": 0, "tour": 0, "tour_end": 0, "why": 0}
USUAL = 1
#: Pages that carry codes to scan, and no plots.
CODES = frozenset({"labels", "job_sheet"})
#: Marks and bars that stand beside their number in words.
BESIDE = re.compile(r'aria-hidden="true"|class="(share-bar|cost-bar|left-bar|wedge-arrow|sign|mark)[" ]')

_SVG = re.compile(r"<svg\b(?:(?!<svg\b).)*?</svg>", re.DOTALL)
_LINK = re.compile(r'href="([^"#]+)')
_DATA = re.compile(r'<metadata class="data">([^<]*)</metadata>')


def look(pages: Iterator[tuple[str, str, str]]) -> tuple[list[str], set[str]]:
    """What falls short, and the heads of all numbers seen; pages come as (name of the address, address, text)."""
    short: list[str] = []
    heads: set[str] = set()
    for name, address, text in pages:
        main = text[text.find("<main") :]
        for svg in _SVG.findall(main):
            opened = svg[: svg.index(">")]
            if 'class="drawing' not in opened:
                if not BESIDE.search(opened):
                    short.append(f"{address}: a picture that is no drawing of ours: {opened[:80]}")
                continue
            if name in CODES:
                continue
            title = _told(svg, "title") or re.sub(r'.*aria-label="([^"]+)".*', r"\1", opened)
            lacking = [what for what, there in _wanted(svg, opened, main) if not there]
            short += [f"{address}: {html.unescape(title)[:60]}: no {what}" for what in lacking]
            data = _DATA.search(svg)
            if data:
                heads.add(next(csv.reader(io.StringIO(html.unescape(data[1]))))[0])
    return short, heads


def pages(folder: Path, order_id: str, addresses: Sequence[str]) -> Iterator[tuple[str, str, str]]:
    """The pages that links lead to, a few of each kind, of the order first: name of the address, address, text."""
    from django.test import Client
    from django.urls import resolve

    from lapwright.app import wiring
    from lapwright.settings import read_settings

    wiring.start(read_settings({"data": folder}))
    client = Client(HTTP_HOST="localhost")
    seen: Counter[str] = Counter()
    waiting = ["/", "/orders", *addresses]
    known = set(waiting)
    while waiting:
        address = waiting.pop(next((i for i, one in enumerate(waiting) if order_id in one), 0))
        name = resolve(address.partition("?")[0]).url_name or ""
        if seen[name] >= MOST.get(name, USUAL):
            continue
        answer = client.get(address)
        if answer.status_code != 200 or "html" not in answer.headers["Content-Type"]:
            continue
        seen[name] += 1
        text = answer.content.decode()
        yield name, address, text
        for link in map(html.unescape, _LINK.findall(text)):
            whole = address.partition("?")[0] + link if link.startswith("?") else link
            if whole.startswith("/") and not whole.startswith(("/static", "/api")) and whole not in known:
                known.add(whole)
                waiting.append(whole)


# ----------------------------------------------------------------------------------------------------------------------


def _wanted(svg: str, opened: str, main: str) -> list[tuple[str, bool]]:
    """What a drawing must have, and whether it has it."""
    is_board = 'role="group"' in opened  # its loads are links, and it is named like a landmark
    data = _DATA.search(svg)
    is_photograph = "<image" in svg and "/documents/" in main
    return [
        ("name", bool(_told(svg, "title")) or (is_board and "aria-label=" in opened)),
        ("sentence", bool(_told(svg, "desc")) or is_board),
        ("way by the keys", 'tabindex="0"' in opened or (is_board and "<a " in svg)),
        ("numbers", is_photograph or (data is not None and data[1].count("\n") > 1)),
    ]


def _told(svg: str, what: str) -> str:
    found = re.search(rf"<{what}>([^<]+)</{what}>", svg)
    return found[1].strip() if found else ""


def _asked(address: str) -> str:
    from django.test import Client

    text: str = Client(HTTP_HOST="localhost").get(address).content.decode()
    return text


if __name__ == "__main__":
    looked_at = list(pages(Path(sys.argv[1]), sys.argv[2], sys.argv[3:]))
    found_short, found_heads = look(iter(looked_at))
    unexplained, silent, kinds = whys.look(looked_at, _asked)
    told = {"short": found_short, "heads": sorted(found_heads)}
    told |= {"unexplained": unexplained, "silent": silent, "explained": kinds}
    sys.stdout.write(json.dumps(told) + "\n")
