"""The page of checks says what the program computes today."""

from pathlib import Path

from lapwright.testing.checks import all_checks, page

ROOT = Path(__file__).parents[2]


def test_the_page_of_checks_is_fresh():
    """Made again, it is the same; every check has its digits."""
    checks = all_checks(ROOT / "tests" / "published" / "data")
    assert [check.what for check in checks if check.digits < check.needed] == []
    assert (ROOT / "docs" / "reference" / "checks.md").read_text(encoding="utf-8") == page(checks)
