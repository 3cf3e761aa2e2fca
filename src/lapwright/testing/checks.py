"""Every statistic held against published numbers, with the digits that agree; prints docs/reference/checks.md.

``python -m lapwright.testing.checks tests/published/data > docs/reference/checks.md``
"""

from __future__ import annotations

import sys
from itertools import chain
from pathlib import Path

from lapwright.testing.checks_charts import chart_checks
from lapwright.testing.checks_details import detail_checks
from lapwright.testing.checks_studies import (
    anova_checks,
    nested_checks,
    regression_checks,
    series_checks,
    study_checks,
)
from lapwright.testing.checks_uncertainty import uncertainty_checks
from lapwright.testing.published_check import MANY, Check


def all_checks(data: Path) -> list[Check]:
    """Every check, in the order of the page."""
    return list(
        chain(
            regression_checks(data), series_checks(data), anova_checks(data), study_checks(data), nested_checks(data),
            chart_checks(data), uncertainty_checks(data), detail_checks(data),
        )
    )  # fmt: skip


def page(checks: list[Check]) -> str:
    """The reference page of the checks."""
    lines = [
        "# Checks against published numbers", "",
        "This page is generated from the program's own results; a test makes it again and compares.",
        "Digits are minus the logarithm of the relative error.",
        f"Where {MANY} or more are asked for, no more than that are shown: beyond it processors differ.",
        "Where a source prints few digits, no more can agree.",
        "The sources are listed in `tests/published/sources.toml` under their keys.", "",
        "| what | key | published | digits that agree | asked for |", "| --- | --- | --- | --- | --- |",
        *(
            f"| {one.what} | `{one.key}` | {one.published:.15g} | {one.shown} | "
            f"{one.needed:g} |"
            for one in checks
        ),
    ]  # fmt: skip
    return "\n".join(lines) + "\n"


def main(arguments: list[str]) -> int:
    """Print the page for the tables in a folder."""
    sys.stdout.write(page(all_checks(Path(arguments[0]))))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
