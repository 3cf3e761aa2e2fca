"""An empty database of this version, made once and copied from then on.

To bring an empty file up to this version takes longer than most tests. As a program
(``python -m lapwright.testing.empty FOLDER``) it makes one in a folder.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
from importlib.metadata import version
from pathlib import Path

import lapwright

_NAME = "lapwright.sqlite3"


def lay_empty_database(data: Path) -> None:
    """Put an empty database into a data folder, which is made where it is missing; one that is there stays."""
    data.mkdir(parents=True, exist_ok=True)
    if not (data / _NAME).exists():
        shutil.copyfile(_template(), data / _NAME)


# ----------------------------------------------------------------------------------------------------------------------


def _template() -> Path:
    """The file that is copied. Whoever comes first makes it; the others wait for that."""
    folder = Path(tempfile.gettempdir(), f"lapwright-empty-{os.getuid()}-{_fingerprint()}")
    if not (folder / _NAME).exists():
        folder.mkdir(mode=0o700, exist_ok=True)
        with (folder / "lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if not (folder / _NAME).exists():
                _make(folder)
    return folder / _NAME


def _make(folder: Path) -> None:
    with tempfile.TemporaryDirectory(dir=folder) as place:
        subprocess.run(  # noqa: S603  our own module
            [sys.executable, "-m", "lapwright.testing.empty", place],
            check=True,
            env={name: value for name, value in os.environ.items() if not name.startswith("LAPWRIGHT_")},
        )
        Path(place, _NAME).rename(folder / _NAME)


def _fingerprint() -> str:
    """What an empty database follows from: models, migrations, the chain, and Django."""
    records = Path(lapwright.__file__).parent / "records"
    digest = hashlib.sha256(version("Django").encode())
    for path in sorted(records.rglob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def _main(folder: str) -> None:
    from django.db import connections

    from lapwright.app import wiring
    from lapwright.settings import read_settings

    wiring.start(read_settings({"data": folder}))
    connections.close_all()  # so that all of it is in the one file


if __name__ == "__main__":
    _main(sys.argv[1])
