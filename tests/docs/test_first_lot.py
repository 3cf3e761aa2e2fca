"""The tutorial's commands run and print what the page shows; `...` stands for anything."""

import doctest
import re
import shlex
import shutil
from pathlib import Path

import pytest

from lapwright.testing.commands import commands

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
    flags = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
    pairs = shown_commands()
    assert len(pairs) > 25
    with commands(tmp_path / "first-lot", work=work) as run:
        for command, expected in pairs:
            words = shlex.split(command.replace("$LAPWRIGHT_DATA", str(tmp_path / "first-lot")))
            assert words[0] == "lapwright"
            ended = run(words[1:])
            assert ended.status == 0, f"{command}\n{ended.stderr}"
            assert doctest.OutputChecker().check_output(expected, ended.stdout, flags), f"{command}\n{ended.stdout}"
    assert (tmp_path / "first-lot" / "papers" / "LOT-1-C1.pdf").read_bytes().startswith(b"%PDF")
