"""Every published check names its source."""

import tomllib
from pathlib import Path

import pytest

FOLDER = Path(__file__).parents[1] / "published"
SOURCES = tomllib.loads((FOLDER / "sources.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("path", sorted(FOLDER.glob("test_*.py")), ids=lambda path: path.stem)
def test_each_published_check_has_a_source(path):
    """A file test_<key>.py without an entry [<key>] fails."""
    assert path.stem.removeprefix("test_") in SOURCES


@pytest.mark.parametrize("key", sorted(SOURCES))
def test_each_source_is_complete_and_used(key):
    """Reference, what was taken, tolerance and licence are stated, and a test exists or a reason why not."""
    entry = SOURCES[key]
    if "no_numbers" in entry:
        return
    assert {"reference", "taken", "tolerance", "licence"} <= set(entry)
    assert (FOLDER / f"test_{key}.py").exists()


@pytest.mark.parametrize("path", sorted((FOLDER / "data").glob("*.csv")), ids=lambda path: path.stem)
def test_each_data_file_begins_with_its_source(path):
    """The first line of a table is a comment that says where it comes from."""
    assert path.read_text(encoding="utf-8").startswith("#")
