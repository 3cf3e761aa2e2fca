"""Fuzzing guided by coverage: bytes that reach new code are kept and changed further, crashes are kept as found.

As a program (``python -m lapwright.testing.fuzz [NAME …] [--minutes M]``) it fuzzes each target in a process of its own
and tells executions, crashes and slow inputs. Corpus and crashes are kept under ``build/fuzz``, so that it goes on.
The engine is libFuzzer, by the library atheris (the group ``fuzz`` of the dependencies).
"""

from __future__ import annotations

import argparse
import hashlib
import re
import subprocess
import sys
import traceback
from pathlib import Path

LONGEST = 4096  # bytes of an input
SLOW = 10  # s, then an input counts as hanging
MEMORY_MB = 2048


def fuzz(name: str, folder: Path, seconds: int) -> None:
    """Fuzz one target in this process, which ends with it."""
    import atheris

    with atheris.instrument_imports(include=["lapwright"]):
        from lapwright.testing.fuzz_targets import targets
    target = targets()[name]
    corpus, crashes = folder / name / "corpus", folder / name / "crashes"
    for place in (corpus, crashes):
        place.mkdir(parents=True, exist_ok=True)
    for sample in target.samples:
        (corpus / hashlib.sha256(sample).hexdigest()[:16]).write_bytes(sample)
    seen: set[str] = set()

    def once(data: bytes) -> None:
        error = target.crash_of(data)
        if error is not None and (where := crash_place(error)) not in seen:
            seen.add(where)
            kept = crashes / hashlib.sha256(where.encode()).hexdigest()[:12]
            kept.write_bytes(data)
            kept.with_suffix(".txt").write_text("".join(traceback.format_exception(error)), encoding="utf-8")

    limits = (f"-max_total_time={seconds}", f"-max_len={LONGEST}", f"-timeout={SLOW}", f"-rss_limit_mb={MEMORY_MB}")
    atheris.Setup([name, str(corpus), *limits, f"-artifact_prefix={crashes}/", "-print_final_stats=1"], once)
    atheris.Fuzz()


def crash_place(error: BaseException) -> str:
    """Kind of a crash and the innermost line of ours in it: two crashes at one place are one."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if "lapwright" in frame.filename and "testing" not in frame.filename]
    last = (ours or frames)[-1]
    return f"{type(error).__name__} in {Path(last.filename).name}:{last.name}:{last.lineno}"


def main(arguments: list[str]) -> int:
    """Fuzz what is asked for; 1 when something crashed or hung."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", help="targets; all when none is named")
    parser.add_argument("--minutes", type=float, default=1.0, help="for each target")
    parser.add_argument("--folder", type=Path, default=Path("build/fuzz"))
    parser.add_argument("--here", action="store_true", help="fuzz in this process, which ends with it")
    given = parser.parse_args(arguments)
    if given.here:
        fuzz(given.names[0], given.folder, round(60.0 * given.minutes))
        return 0
    from lapwright.testing.fuzz_targets import targets

    unknown = sorted(set(given.names) - set(targets()))
    if unknown:
        parser.error(f"no such targets: {', '.join(unknown)}; known are {', '.join(targets())}")
    wrong = 0
    for name in given.names or targets():
        words = [sys.executable, "-m", "lapwright.testing.fuzz", name, "--here"]
        words += ["--minutes", str(given.minutes), "--folder", str(given.folder)]
        done = subprocess.run(words, capture_output=True, text=True, errors="replace", check=False)  # noqa: S603  ours
        told = re.search(r"number_of_executed_units: *(\d+)", done.stderr)
        crashes = [path for path in (given.folder / name / "crashes").glob("*") if path.suffix != ".txt"]
        wrong += len(crashes) + int(told is None)
        ended = "" if told else f"; the fuzzer ended: {done.stderr[-800:]}"
        sys.stdout.write(f"{name}: {told[1] if told else '?'} executions, {len(crashes)} crashes{ended}\n")
        sys.stdout.flush()
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
