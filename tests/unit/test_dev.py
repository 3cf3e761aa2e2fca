"""The set-up-and-run file answers without setting anything up."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def call(*arguments):
    """./dev with arguments."""
    return subprocess.run([sys.executable, ROOT / "dev", *arguments], capture_output=True, text=True, check=False)


def test_without_arguments_it_lists_its_commands():
    """Asking for nothing is no mistake."""
    answer = call()

    assert answer.returncode == 0
    assert "./dev demo" in answer.stdout
    assert "./dev test" in answer.stdout


def test_an_unknown_command_lists_the_known_ones():
    """A slip ends with status 2 and the list."""
    answer = call("tset")

    assert answer.returncode == 2
    assert "./dev test" in answer.stdout


def test_committed_versions_hold_no_address():
    """The lists of versions name packages, never where to get them."""
    text = (ROOT / "constraints.txt").read_text() + (ROOT / "pyproject.toml").read_text()

    assert "://" not in text
    assert "--index" not in text
