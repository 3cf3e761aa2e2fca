"""A laboratory of years for the benchmarks of the pages: 2 000 orders, 20 000 wafers, 2.7 million readings, a full desk.

It takes minutes to make, so it is made once and kept in `build`, under a name that tells what it was made by; each
part works on a copy. `BENCH_ORDERS` makes a smaller one; `BENCH_DATA` names a folder that is worked on as it is.
"""

import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path

from lapwright.app import wiring
from lapwright.settings import read_settings
from lapwright.testing import large_shop

ORDERS = int(os.environ.get("BENCH_ORDERS", "2000"))
WAITING = max(1, ORDERS // 250)  # orders at each of five points of the job
ROOT = Path(__file__).parents[2]
MADE_BY = ("testing/large_shop.py", "testing/large_desk.py", "testing/lot.py", "records/migrations/*.py")


@contextmanager
def laboratory():
    """Its data folder, started in this process."""
    with tempfile.TemporaryDirectory() as passing:
        folder = Path(os.environ.get("BENCH_DATA") or shutil.copytree(_kept(), Path(passing, "data")))
        wiring.start(read_settings({"data": folder}), serving=True)
        import_module("lapwright.web.asgi").MADE_READY.join()  # what a server sets up when it starts
        yield folder


def size():
    """What it holds, as the tables of figures say it."""
    held = large_shop.counts()
    return f"{held['order']} orders, {held['wafer']} wafers, {held['reading']} readings"


def _kept():
    """The folder in which it is kept; made now where there is none, or where it was made by other code."""
    folder = ROOT / "build" / f"laboratory-{ORDERS}-{_maker()}"
    if not folder.exists():
        for other in folder.parent.glob(f"laboratory-{ORDERS}-*"):
            shutil.rmtree(other)
        begun = folder.with_suffix(".begun")
        shutil.rmtree(begun, ignore_errors=True)
        made = ("--finished", ORDERS - large_shop.WAITING_POINTS * WAITING, "--waiting", WAITING, "--desk")
        command = [sys.executable, "-m", "lapwright.testing.large_shop", begun, *made]
        subprocess.run([str(one) for one in command], check=True)
        begun.rename(folder)
    return folder


def _maker():
    """What tells the code that makes it from any other."""
    found = hashlib.sha256()
    for named in MADE_BY:
        for path in sorted((ROOT / "src" / "lapwright").glob(named)):
            found.update(path.read_bytes())
    return found.hexdigest()[:12]
