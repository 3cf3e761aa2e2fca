"""The store suite run on another database, in a process of its own: Django is set up once in a process."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from lapwright.testing.records import VARIABLE


def run_suites(suites: list[Path], address: str) -> subprocess.CompletedProcess[str]:
    """Run test files on the database at an address; their output and exit status."""
    return subprocess.run(  # noqa: S603  our own tests
        [sys.executable, "-m", "pytest", "-q", "-p", "no:randomly", "-p", "no:cacheprovider", *map(str, suites)],
        cwd=suites[0].parents[2],
        env={**os.environ, VARIABLE: address},
        capture_output=True,
        text=True,
        check=False,
    )
