"""Size report: modules over 500 lines and function bodies over 60 lines fail."""

from __future__ import annotations

import ast
import statistics
import sys
from pathlib import Path

MODULE_ALARM = 500
BODY_ALARM = 60


def body_length(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of a function after its docstring."""
    statements = function.body
    if ast.get_docstring(function) is not None:
        statements = statements[1:]
    if not statements:
        return 0
    return (statements[-1].end_lineno or 0) - statements[0].lineno + 1


def report(folder: Path) -> tuple[list[str], str]:
    """Offences, and one line of medians and largest values."""
    offences, modules, bodies = [], [], []
    for path in sorted(folder.rglob("*.py")):
        if "migrations" in path.parts:
            continue
        text = path.read_text(encoding="utf-8")
        if not text:
            continue
        lines = text.count("\n")
        modules.append(lines)
        if lines > MODULE_ALARM:
            offences.append(f"{path}: {lines} lines (at most {MODULE_ALARM})")
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                length = body_length(node)
                bodies.append(length)
                if length > BODY_ALARM:
                    offences.append(f"{path}:{node.lineno}: {node.name} has {length} lines (at most {BODY_ALARM})")
    return offences, f"modules {_spread(modules)}; bodies {_spread(bodies)}"


def main(arguments: list[str]) -> int:
    """Print the report; 1 when anything is too large."""
    offences, summary = report(Path(arguments[0]))
    sys.stdout.write("\n".join([*offences, f"sizes (median, p90, max): {summary}"]) + "\n")
    return 1 if offences else 0


# ----------------------------------------------------------------------------------------------------------------------


def _spread(values: list[int]) -> str:
    if len(values) < 2:
        return str(values)
    return f"{statistics.median(values):.0f}, {statistics.quantiles(values, n=10)[-1]:.0f}, {max(values)}"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
