"""One concept, one name: the parameters of the numerics are all in the vocabulary."""

import importlib
import inspect
import pkgutil
import re
from pathlib import Path

import pytest

PAGE = Path(__file__).parents[2] / "docs" / "reference" / "vocabulary.md"
ROOMS = ("model", "metrology", "process")


def words():
    """The first column of the vocabulary table."""
    rows = re.findall(r"^\| `?([a-z_0-9*]+)`? \|", PAGE.read_text(encoding="utf-8"), flags=re.MULTILINE)
    return rows[1:]  # the first is the heading


def modules():
    """Every module of the numerics."""
    for room in ROOMS:
        package = importlib.import_module(f"lapwright.{room}")
        yield package
        for found in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
            if not found.name.rpartition(".")[2].startswith("_"):
                yield importlib.import_module(found.name)


def public_callables():
    """Public functions and classes defined there, with their module."""
    for module in modules():
        for name, thing in vars(module).items():
            ours = getattr(thing, "__module__", None) == module.__name__
            if ours and not name.startswith("_") and (inspect.isfunction(thing) or inspect.isclass(thing)):
                yield pytest.param(thing, id=f"{module.__name__}.{name}")


@pytest.mark.parametrize("thing", list(public_callables()))
def test_every_parameter_is_in_the_vocabulary(thing):
    """A parameter name that the page does not explain fails."""
    try:
        names = set(inspect.signature(thing).parameters) - {"self", "args", "kwargs"}
    except ValueError:
        return

    assert sorted(names - set(words())) == []


@pytest.mark.parametrize("thing", list(public_callables()))
def test_everything_public_has_a_docstring(thing):
    """A public function or class without a definition in words fails."""
    assert inspect.getdoc(thing)


def test_no_word_is_explained_twice():
    """One name, one row."""
    listed = words()
    assert sorted(listed) == sorted(set(listed))
