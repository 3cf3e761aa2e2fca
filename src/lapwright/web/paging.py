"""A long list page by page: `?page=` says which, and the template's part `turn_pages.html` leads on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from django.http import HttpRequest

Row = TypeVar("Row")


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaf(Generic[Row]):
    """The rows of one page, its number from 1, and of how many."""

    rows: Sequence[Row]
    number: int
    pages: int


def page_number(request: HttpRequest) -> int:
    """The page asked for, from 1."""
    number = request.GET.get("page", "1")
    return max(1, int(number)) if number.isascii() and number.isdigit() and len(number) < 8 else 1


def leaf(request: HttpRequest, rows: Sequence[Row], *, size: int) -> Leaf[Row]:
    """The rows of the page asked for; beyond the last page those of the last."""
    pages = max(1, -(-len(rows) // size))
    number = min(page_number(request), pages)
    return Leaf(rows=rows[(number - 1) * size : number * size], number=number, pages=pages)
