"""What this process has answered, counted for whoever watches over it; and the text in which it is told.

The text is that of OpenMetrics 1.0 (its specification, sections 4 and 5). A page is told by its name, never by its
address: no order, no wafer and no person is in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from threading import Lock

CONTENT_TYPE = "application/openmetrics-text; version=1.0.0; charset=utf-8"
BOUNDS = (0.01, 0.025, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)  # s


Sample = tuple[str, Mapping[str, str], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """Numbers of one name: their kind, unit and meaning, and a value for each set of labels."""

    name: str
    kind: str
    meaning: str
    samples: tuple[Sample, ...]
    unit: str = ""


class Answers:
    """Requests answered by this process: how many of each page and status, and how long they took."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._counts: dict[tuple[str, str, int], int] = {}
        self._within = [0] * len(BOUNDS)
        self._all, self._seconds = 0, 0.0

    def note(self, page: str, method: str, status: int, seconds: float) -> None:
        """One more."""
        with self._lock:
            key = (page, method, status)
            self._counts[key] = self._counts.get(key, 0) + 1
            for place, bound in enumerate(BOUNDS):
                self._within[place] += seconds <= bound
            self._all += 1
            self._seconds += seconds

    def families(self) -> tuple[Family, Family]:
        """The counts, and the times as a histogram."""
        with self._lock:
            counted: list[Sample] = [
                ("_total", {"page": page, "method": method, "status": str(status)}, float(count))
                for (page, method, status), count in sorted(self._counts.items())
            ]
            within: list[Sample] = [
                ("_bucket", {"le": f"{bound}"}, float(n)) for bound, n in zip(BOUNDS, self._within, strict=True)
            ]
            within.append(("_bucket", {"le": "+Inf"}, float(self._all)))
            spent: list[Sample] = [("_count", {}, float(self._all)), ("_sum", {}, self._seconds)]
        return (
            Family(
                name="lapwright_requests", kind="counter", meaning="Requests answered by this process.",
                samples=tuple(counted),
            ),
            Family(
                name="lapwright_request_seconds", kind="histogram", unit="seconds", samples=(*within, *spent),
                meaning="Time until a request was answered.",
            ),
        )  # fmt: skip


ANSWERS = Answers()


def gauge(name: str, meaning: str, *values: tuple[Mapping[str, str], float | None], unit: str = "") -> Family:
    """Values that go up and down; one that is not known is left out."""
    samples = tuple(("", labels, value) for labels, value in values if value is not None)
    return Family(name=name, kind="gauge", meaning=meaning, samples=samples, unit=unit)


def counter(name: str, meaning: str, *values: tuple[Mapping[str, str], float]) -> Family:
    """Values that only grow."""
    return Family(
        name=name, kind="counter", meaning=meaning, samples=tuple(("_total", labels, value) for labels, value in values)
    )


def exposition(families: Iterable[Family]) -> str:
    """The text of all families."""
    lines = []
    for family in families:
        lines.append(f"# TYPE {family.name} {family.kind}")
        if family.unit:
            lines.append(f"# UNIT {family.name} {family.unit}")
        lines.append(f"# HELP {family.name} {_escaped(family.meaning)}")
        lines += [f"{family.name}{tail}{_labelled(labels)} {_number(value)}" for tail, labels, value in family.samples]
    return "\n".join([*lines, "# EOF"]) + "\n"


# ----------------------------------------------------------------------------------------------------------------------


def _labelled(labels: Mapping[str, str]) -> str:
    if not labels:
        return ""
    return "{" + ",".join(f'{name}="{_escaped(value)}"' for name, value in labels.items()) + "}"


def _escaped(text: str) -> str:
    return text.replace("\\", r"\\").replace('"', r"\"").replace("\n", r"\n")


def _number(value: float) -> str:
    return str(int(value)) if value == int(value) else repr(value)
