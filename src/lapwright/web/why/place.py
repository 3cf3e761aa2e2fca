"""The page from which somebody asked why: which order, wafer, set, plate or gauge it shows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeVar
from urllib.parse import parse_qsl, urlsplit

from django.urls import Resolver404, resolve
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _

from lapwright.errors import NotFound

Item = TypeVar("Item")
_DIGITS = 15


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A page by its name, with what its address names, what was asked of it, and `of`: which number of the page."""

    page: str
    names: Mapping[str, object]
    asked: Mapping[str, str]
    of: str = ""

    def name(self, key: str) -> str:
        """What the address names; empty where it names none of that kind."""
        return str(self.names.get(key, self.asked.get(key, "")))


def is_number(text: str) -> bool:
    """Whether a text can be the number of a record."""
    return text.isascii() and text.isdigit() and len(text) <= _DIGITS


def is_ours(address: str) -> bool:
    """Whether an address leads to a page of this program and nowhere else."""
    return address.startswith("/") and url_has_allowed_host_and_scheme(address, allowed_hosts=None)


def place_of(address: str, of: str = "") -> Place | None:
    """The page at an address; None for one that is no page of ours."""
    if not is_ours(address):
        return None
    parts = urlsplit(address)
    try:
        found = resolve(parts.path)
    except Resolver404:
        return None
    return Place(page=found.url_name or "", names=found.kwargs, asked=dict(parse_qsl(parts.query)), of=of)


def picked(of: str, listed: Mapping[str, Item], none: str) -> Item:
    """The one that is asked for by its key; the first where none is. Raises `NotFound` where there is no such."""
    if not listed:
        raise NotFound(none)
    if not of:
        return next(iter(listed.values()))
    if of not in listed:
        raise NotFound(_("That one does not stand on the page any more. Go back and look at what does."))
    return listed[of]
