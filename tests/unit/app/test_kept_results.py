"""What is kept until a table is written to: the names are those that the chain knows, or it would be kept for ever."""

import re
from pathlib import Path

import lapwright.app

APP = Path(lapwright.app.__file__).parent


def test_results_are_kept_by_tables_that_the_chain_notes(started_records):  # noqa: ARG001  a configured program
    """Every name in a set of tables of a module that keeps results by them."""
    from lapwright.records.chain_form import covered_models

    keeping = [text for path in APP.glob("*.py") if "kept_until(" in (text := path.read_text(encoding="utf-8"))]
    named = {
        name
        for text in keeping
        for listed in re.findall(r"frozenset\(\s*\{([^}]*)\}", text)
        for name in re.findall(r'"(\w+)"', listed)
    }
    assert len(named) > 15
    assert named <= covered_models().keys()
