"""Every published check names its source."""

import tomllib
from pathlib import Path

FOLDER = Path(__file__).parents[1] / "published"
SOURCES = tomllib.loads((FOLDER / "sources.toml").read_text(encoding="utf-8"))


def test_each_published_check_has_a_source():
    """A file test_<key>.py without an entry [<key>] fails."""
    keys = {path.stem.removeprefix("test_") for path in FOLDER.glob("test_*.py")}
    assert sorted(keys - set(SOURCES)) == []


def test_each_source_is_complete_and_used():
    """Reference, what was taken, tolerance and licence are stated, and a test exists or a reason why not."""
    told = {key: entry for key, entry in SOURCES.items() if "no_numbers" not in entry}
    assert [
        key for key, entry in told.items() if not {"reference", "taken", "tolerance", "licence"} <= set(entry)
    ] == []
    assert [key for key in told if not (FOLDER / f"test_{key}.py").exists()] == []


def test_each_data_file_begins_with_its_source():
    """The first line of a table is a comment that says where it comes from."""
    tables = sorted((FOLDER / "data").glob("*.csv"))
    assert tables
    assert [path.stem for path in tables if not path.read_text(encoding="utf-8").startswith("#")] == []
