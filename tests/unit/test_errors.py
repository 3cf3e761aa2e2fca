"""The error tree is drawn, coded and documented."""

from pathlib import Path

import pytest

from lapwright import errors
from lapwright.errors import TABLE, BadInput, CannotAnswer, Fault, LapwrightError, TooFewSites, WrongQuestion

ERRORS_PAGE = Path(__file__).parents[2] / "docs" / "reference" / "errors.md"


def tree(root=LapwrightError):
    """Every class of the tree."""
    return [root, *(leaf for branch in root.__subclasses__() for leaf in tree(branch))]


def own():
    """The classes defined in errors.py."""
    return [kind for kind in tree() if kind.__module__ == errors.__name__]


def test_all_errors_live_in_one_file():
    """No other module of ours defines an error class."""
    assert [kind for kind in tree() if kind.__module__.startswith("lapwright.") and kind not in own()] == []


@pytest.mark.parametrize("kind", own(), ids=lambda kind: kind.__name__)
def test_each_class_is_coded_drawn_and_tabled(kind):
    """A class without a code of its own, a place in the drawing or a row in the table fails."""
    assert kind.code in TABLE
    assert kind.__name__ in errors.__doc__
    if kind not in (LapwrightError, WrongQuestion, CannotAnswer):
        assert kind.code in errors.__doc__


def test_codes_are_unique():
    """One code, one class."""
    codes = [kind.code for kind in own()]
    assert sorted(codes) == sorted(set(codes))


@pytest.mark.parametrize("code", sorted(TABLE))
def test_each_code_has_a_heading(code):
    """The errors page explains every code."""
    assert f"## {code}\n" in ERRORS_PAGE.read_text(encoding="utf-8")


@pytest.mark.parametrize("kind", own(), ids=lambda kind: kind.__name__)
def test_exit_status_follows_the_kind(kind):
    """2 for a wrong question, 3 when it cannot be answered."""
    expected = 2 if issubclass(kind, WrongQuestion) else 3
    assert TABLE[kind.code][0] == expected


def test_one_fault_speaks_for_itself():
    """A single fault needs no preamble."""
    assert str(BadInput([Fault(sentence="Row 3 is empty.")])) == "Row 3 is empty."


def test_many_faults_are_counted_and_all_kept():
    """The sentence counts; the list holds all."""
    error = BadInput([Fault(sentence="Row 3 is empty."), Fault(sentence="Row 4 is empty.")], subject="The file")

    assert str(error) == "The file has 2 faults; the first: Row 3 is empty."
    assert len(error.faults) == 2


def test_too_few_sites_says_what_is_missing():
    """Found, needed and what to do, in one sentence."""
    error = TooFewSites("A plane", measured=2, needed=3)

    assert str(error) == "A plane needs at least 3 measured sites; 2 found. Read the missing sites, or ask for less."
