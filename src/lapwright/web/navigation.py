"""What leads where: the sections of the head, each with its pages. A page names its own place with `here`."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A page that is reached from the head: the name of its address, which is also its `here`, and its word."""

    name: str
    word: Promise


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A word of the head with the pages below it; the word leads to the first."""

    word: Promise
    pages: tuple[Page, ...]


SECTIONS = (
    Section(
        word=_("Hands"),
        pages=(
            Page(name="hands", word=_("Hands")),
            Page(name="handovers", word=_("Handover")),
            Page(name="waste", word=_("Waste and cautions")),
        ),
    ),
    Section(
        word=_("Stations"),
        pages=(
            Page(name="stations", word=_("Stations")),
            Page(name="plates", word=_("Plates")),
            Page(name="recipes", word=_("Recipes")),
            Page(name="shelf", word=_("Shelf")),
            Page(name="room", word=_("Room")),
        ),
    ),
    Section(
        word=_("Orders"),
        pages=(
            Page(name="orders", word=_("Orders")),
            Page(name="board", word=_("Board")),
            Page(name="intake", word=_("Intake")),
            Page(name="odd_ones", word=_("Odd ones")),
        ),
    ),
    Section(
        word=_("Faces"),
        pages=(Page(name="surfaces", word=_("Fringes")), Page(name="profiles", word=_("Finish"))),
    ),
    Section(
        word=_("Gauges"),
        pages=(Page(name="gauges", word=_("Gauges")), Page(name="drift", word=_("Drift"))),
    ),
    Section(
        word=_("Rates"),
        pages=(
            Page(name="rates", word=_("Rates")),
            Page(name="kinematics", word=_("Kinematics")),
            Page(name="prices", word=_("Prices")),
        ),
    ),
    Section(word=_("Help"), pages=(Page(name="help", word=_("Help")), Page(name="practice", word=_("Practice")))),
)


def section_of(here: str) -> Section | None:
    """The section that a page stands in; None for one that is not reached from the head."""
    return next((section for section in SECTIONS if any(page.name == here for page in section.pages)), None)
