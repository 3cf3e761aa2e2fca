"""How long a command takes from nothing, against a bare interpreter that imports NumPy."""

import subprocess
import sys
import tempfile
import time
from pathlib import Path

RUNS = 7


def rows():
    """`--version`, `thickness FILE` and `jig`, each as a fresh process."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "readings.csv"
        path.write_text(
            "wafer,site,x_mm,y_mm,thickness_um\n"
            + "".join(f"W1,{n},{x},{y},{500 + n / 10}\n" for n, (x, y) in enumerate([(0, 0), (20, 0), (0, 20), (-20, 0), (0, -20)])),
            encoding="utf-8",
        )  # fmt: skip
        numpy = _median(["-c", "import numpy"])
        commands = {
            "lapwright --version": ["--version"],
            "lapwright thickness FILE --json": ["thickness", str(path), "--diameter-mm", "100", "--json"],
            "lapwright thickness FILE": ["thickness", str(path), "--diameter-mm", "100"],
        }
        return [_row(name, _median(["-m", "lapwright", *arguments]), numpy) for name, arguments in commands.items()]


def _row(name, ours, reference):
    conditions = f"fresh process, median of {RUNS}; reference: python -c 'import numpy'"
    return {"name": name, "ours_s": ours, "reference_s": reference, "ratio": ours / reference, "conditions": conditions}


def _median(arguments):
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        subprocess.run([sys.executable, *arguments], check=True, capture_output=True)
        times.append(time.perf_counter() - start)
    return sorted(times)[RUNS // 2]
