"""How a command answers: one line of JSON on standard output, or plain text for people."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any

import typer

from lapwright.errors import TABLE, LapwrightError
from lapwright.formats.json_line import failure, one_line, success

#: The option that every command has.
JsonOption = Annotated[bool, typer.Option("--json", help="Answer with one line of JSON.")]


def give(
    result: Mapping[str, Any],
    *,
    as_json: bool,
    show: Callable[[Mapping[str, Any]], None],
    warnings: Sequence[Mapping[str, Any]] = (),
) -> None:
    """Print a result: as JSON, or with `show`; warnings for people go to standard error."""
    if as_json:
        sys.stdout.write(one_line(success(result, warnings)) + "\n")
        return
    show(result)
    for (code, sentence), pieces in _grouped(warnings).items():
        about = f"{', '.join(pieces)}: " if pieces else ""
        sys.stderr.write(f"warning: {about}{sentence} [{code}]\n")


def show_fields(result: Mapping[str, Any]) -> None:
    """Show a result to people as its fields, one a line."""
    from lapwright.cli.tables import print_fields

    print_fields(result)


def tell_failure(error: LapwrightError, *, as_json: bool) -> int:
    """Print why there is no answer; gives the exit status."""
    if as_json:
        sys.stdout.write(one_line(failure(error)) + "\n")
    else:
        sys.stderr.write(f"error: {error.sentence} [{error.code}]\n")
        if len(error.faults) > 1:
            sys.stderr.writelines(f"  {fault.sentence}\n" for fault in error.faults)
    return TABLE[error.code][0]


# ----------------------------------------------------------------------------------------------------------------------


def _grouped(warnings: Sequence[Mapping[str, Any]]) -> dict[tuple[str, str], list[str]]:
    """Each warning once, with the pieces it is about."""
    grouped: dict[tuple[str, str], list[str]] = {}
    for warning in warnings:
        pieces = grouped.setdefault((warning["code"], warning["sentence"]), [])
        about = warning.get("wafer") or warning.get("set")
        if about:
            pieces.append(about)
    return grouped
