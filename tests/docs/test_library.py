"""The library page says what the library holds."""

from pathlib import Path

import pytest

from lapwright.library import TRUST_MEANING, load
from lapwright.library.schema import PROPERTIES, TABLES

PAGE = (Path(__file__).parents[2] / "docs" / "reference" / "library.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.stem)
def test_each_table_and_heading_is_listed(table):
    """A new column without a word on the page fails."""
    row = next(line for line in PAGE.splitlines() if line.startswith(f"| `{table.stem}` |"))

    assert [column.heading for column in table.columns if f"`{column.heading}`" not in row] == []


def test_properties_and_trust_words_are_listed():
    """Each property with its unit, each trust word with its meaning."""
    assert [name for name in PROPERTIES if f"`{name}`" not in PAGE] == []
    assert [word for word, meaning in TRUST_MEANING.items() if meaning not in PAGE] == []


def test_the_register_of_contradictions_is_listed():
    """Every open contradiction with its handling."""
    assert [row.contradiction_id for row in load().contradictions if row.handling not in PAGE] == []
