"""The set-up-and-run file answers without setting anything up."""

import runpy
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


def test_an_audit_that_looked_nothing_up_is_no_good_news(capsys):
    """What a list of known faults does not have counts as not looked up; a known fault outweighs that."""
    audit_told = runpy.run_path(str(ROOT / "dev"), run_name="dev")["audit_told"]
    sound = {"name": "sound", "version": "1.0", "vulns": []}
    faulty = {"name": "faulty", "version": "1.0", "vulns": [{"id": "X-1", "fix_versions": ["1.1"]}]}
    missing = {"name": "missing", "skip_reason": "not found"}

    assert [audit_told(one) for one in ([sound], [sound, faulty], [sound, missing], [faulty, missing])] == [0, 1, 3, 1]
    told = capsys.readouterr().out
    assert "faulty 1.0: X-1, mended in 1.1" in told
    assert "1 of 2 packages looked up, 0 known faults.\nNOT looked up: missing." in told


def test_committed_versions_hold_no_address():
    """The lists of versions name packages, never where to get them."""
    text = (ROOT / "constraints.txt").read_text() + (ROOT / "pyproject.toml").read_text()

    assert "://" not in text
    assert "--index" not in text
