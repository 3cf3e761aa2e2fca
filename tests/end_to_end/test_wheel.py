"""The built wheel plays the demonstration in an environment of its own."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def run(*command, **options):
    """A command that must succeed."""
    words = [str(word) for word in command]
    return subprocess.run(words, check=True, capture_output=True, text=True, **options).stdout


@pytest.mark.slow
@pytest.mark.timeout(420)
def test_the_wheel_alone_plays_the_demonstration(tmp_path):
    """Data files, templates and migrations are all inside the wheel."""
    uv = Path(sys.executable).parent / "uv"
    run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", tmp_path, ROOT)
    wheel = next(tmp_path.glob("lapwright-*.whl"))
    run(uv, "venv", "-q", "--python", sys.executable, tmp_path / "fresh")
    python = tmp_path / "fresh" / "bin" / "python"
    run(uv, "pip", "install", "-q", "--python", python, "-c", ROOT / "constraints.txt", wheel)

    printed = run(tmp_path / "fresh" / "bin" / "lapwright", "demo", "--data", tmp_path / "shop", "--json", cwd=tmp_path)

    answer = json.loads(printed)
    assert answer["ok"] is True
    certificate = next(path for path in answer["result"]["certificate"] if path.endswith(".pdf"))
    assert Path(certificate).stat().st_size > 10_000
