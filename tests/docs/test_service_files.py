"""The units and the container file that the documentation offers: as far as they can be tested without being run."""

import configparser
import re
import shlex
import shutil
import subprocess
import tomllib
from pathlib import Path

import pytest
import typer.main

from lapwright.cli.main import app

FOLDER = Path(__file__).parents[2] / "docs" / "how-to" / "service"
UNITS = sorted(one.name for one in FOLDER.iterdir() if one.suffix in (".service", ".timer"))
INSTRUCTIONS = "ARG FROM RUN WORKDIR COPY USER ENV VOLUME EXPOSE HEALTHCHECK ENTRYPOINT CMD".split()  # noqa: SIM905


def taken(words):
    """Whether Lapwright takes a command line; it is parsed, not run."""
    group = typer.main.get_command(app)
    with group.make_context("lapwright", list(words), resilient_parsing=False) as context:
        name, command, rest = group.resolve_command(context, list(words))
        command.make_context(name, rest)


def unit(name):
    """A unit as its settings."""
    read = configparser.ConfigParser(strict=False, interpolation=None)
    read.optionxform = str
    read.read_string((FOLDER / name).read_text(encoding="utf-8"))
    return read


@pytest.mark.parametrize("name", UNITS)
def test_each_unit_starts_a_command_that_there_is(name):
    """A unit has its parts, and each command line in it is understood."""
    found = unit(name)
    assert found["Unit"]["Description"]
    if name.endswith(".service"):
        program, *words = shlex.split(found["Service"]["ExecStart"])
        assert program == "/opt/lapwright/bin/lapwright"
        assert found["Service"]["User"] == "lapwright"
        made = [f"/var/lib/{one}" for one in found["Service"]["StateDirectory"].split()]
        assert all(word in made for word in words if word.startswith("/")), "a folder that systemd makes"
        taken(words)


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="no systemd on this machine")
def test_systemd_finds_nothing_wrong(tmp_path):
    """`systemd-analyze verify` over all of them, with a program that is on this machine in the place of ours."""
    for name in UNITS:
        text = (FOLDER / name).read_text(encoding="utf-8")
        (tmp_path / name).write_text(text.replace("/opt/lapwright/bin/lapwright", "/bin/true"), encoding="utf-8")
    done = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", *(str(tmp_path / name) for name in UNITS)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    ours = [line for line in done.stderr.splitlines() if "lapwright" in line and "postgresql" not in line]
    assert ours == []


def needed_to_build(root):
    """Files that the build of the package reads, as pyproject.toml names them."""
    told = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))
    included = told["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    return {"pyproject.toml", told["project"]["readme"], *told["project"]["license-files"], *included}


def test_the_container_file_is_whole_and_starts_what_there_is():
    """Known instructions alone, files that are in the source, no server named, no root at the end, a command we take."""
    text = re.sub(r"^#.*$", "", (FOLDER / "Containerfile").read_text(encoding="utf-8"), flags=re.MULTILINE)
    lines = [line.split(maxsplit=1) for line in text.splitlines() if line.strip()]
    base = re.fullmatch(r"BASE=([a-z]+:[\d.]+-[a-z]+)", lines[0][1])
    assert (lines[0][0], lines[1]) == ("ARG", ["FROM", "${BASE}"])
    assert base is not None, "a base without the address of a server"
    assert {name for name, _ in lines} <= set(INSTRUCTIONS)
    root = FOLDER.parents[2]
    copied = {one for name, given in lines if name == "COPY" for one in given.split()[:-1]}
    assert {*needed_to_build(root), "constraints.txt", "src"} <= copied
    for _, copied in [line for line in lines if line[0] == "COPY"]:
        assert all((root / one).exists() for one in copied.split()[:-1])
    assert [given for name, given in lines if name == "USER"] == ["lapwright"]
    told = {name: given for name, given in lines if name in ("ENTRYPOINT", "CMD")}
    assert told["ENTRYPOINT"] == '["lapwright"]'
    taken(re.findall(r'"([^"]+)"', told["CMD"]))


def test_the_page_shows_the_files_themselves():
    """Each file is on the page as it is; nothing there is a copy that could differ."""
    page = (FOLDER.parent / "run-as-a-service.md").read_text(encoding="utf-8")
    assert sorted(re.findall(r"literalinclude\} service/(\S+)", page)) == sorted(one.name for one in FOLDER.iterdir())
