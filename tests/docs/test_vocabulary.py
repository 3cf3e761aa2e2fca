"""One concept, one name: the parameters of the numerics are all in the vocabulary."""

import importlib
import inspect
import pkgutil
import re
from pathlib import Path

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
    """Full name of every public function and class, and itself."""
    for module in modules():
        for name, thing in vars(module).items():
            ours = getattr(thing, "__module__", None) == module.__name__
            if ours and not name.startswith("_") and (inspect.isfunction(thing) or inspect.isclass(thing)):
                yield f"{module.__name__}.{name}", thing


def parameters_of(thing):
    """Names of its parameters; none where it has no signature."""
    try:
        return set(inspect.signature(thing).parameters) - {"self", "args", "kwargs"}
    except ValueError:
        return set()


def test_every_parameter_is_in_the_vocabulary():
    """A parameter name that the page does not explain fails; all are named."""
    explained = set(words())
    missing = {place: sorted(parameters_of(thing) - explained) for place, thing in public_callables()}
    told = [f"{place}: {', '.join(names)}" for place, names in missing.items() if names]
    assert len(missing) > 500
    assert not told, "\n".join(told)


def test_everything_public_has_a_docstring():
    """A public function or class without a definition in words fails; all are named."""
    bare = [place for place, thing in public_callables() if not inspect.getdoc(thing)]
    assert not bare, "\n".join(bare)


def test_no_word_is_explained_twice():
    """One name, one row."""
    listed = words()
    assert sorted(listed) == sorted(set(listed))
