"""What waits on the Traveller and on the page of a wafer: a step once, with a line for each number to dial in."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from lapwright.web.pages.hands import Line


@dataclass(frozen=True, slots=True, kw_only=True)
class NextSteps:
    """One step that waits: its verb, whether it is a warning, the cautions, and its lines in their order."""

    verb: str
    warning: bool
    cautions: tuple[str, ...]
    lines: tuple[Line, ...]


def next_steps(lines: Iterable[Line]) -> list[NextSteps]:
    """Lines that say the same thing with the same cautions together; cautions told once are read."""
    together: dict[tuple[object, ...], list[Line]] = {}
    for line in lines:
        together.setdefault((line.verb, line.warning, line.cautions), []).append(line)
    return [
        NextSteps(verb=group[0].verb, warning=group[0].warning, cautions=group[0].cautions, lines=tuple(group))
        for group in together.values()
    ]
