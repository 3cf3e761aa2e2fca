"""The documentation builds without a warning."""

import subprocess
import sys
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[2] / "docs"


@pytest.mark.timeout(180)
def test_the_documentation_builds_without_a_warning(tmp_path):
    """A broken link or a page outside the table of contents fails."""
    command = [sys.executable, "-m", "sphinx", "-W", "--keep-going", "-q", "-b", "html", str(DOCS), str(tmp_path)]
    built = subprocess.run(command, capture_output=True, text=True, check=False)

    assert built.stderr == ""
    assert built.returncode == 0
    assert (tmp_path / "index.html").exists()
