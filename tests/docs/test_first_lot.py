"""The tutorial's commands run and print what the page shows; `...` stands for anything."""

import doctest
import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[2] / "docs"
PAGE = DOCS / "tutorial" / "first-lot.md"
SHOWN = re.compile(r"^```console\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def shown_commands() -> list[tuple[str, str]]:
    """Each command of the page with the output below it."""
    pairs: list[tuple[str, str]] = []
    for block in SHOWN.findall(PAGE.read_text(encoding="utf-8")):
        for line in block.splitlines(keepends=True):
            if line.startswith("$ "):
                pairs.append((line[2:].strip(), ""))
            else:
                pairs[-1] = (pairs[-1][0], pairs[-1][1] + line)
    return pairs


@pytest.mark.slow
@pytest.mark.timeout(400)
def test_the_tutorial_does_what_it_says(tmp_path):
    """Every command in turn, in a copy of the tutorial's data, each a process of its own."""
    work = shutil.copytree(DOCS / "tutorial" / "data", tmp_path / "data")
    surroundings = {**os.environ, "LAPWRIGHT_DATA": str(tmp_path / "first-lot"), "PYTHONUTF8": "1"}
    flags = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
    commands = shown_commands()
    assert len(commands) > 25
    for command, expected in commands:
        words = shlex.split(command)
        assert words[0] == "lapwright"
        line = [sys.executable, "-c", "from lapwright.cli.main import run; run()", *words[1:]]
        ran = subprocess.run(line, cwd=work, env=surroundings, capture_output=True, text=True, check=False)
        assert ran.returncode == 0, f"{command}\n{ran.stderr}"
        assert doctest.OutputChecker().check_output(expected, ran.stdout, flags), f"{command}\n{ran.stdout}"
