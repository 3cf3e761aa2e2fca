"""All faults of one input, gathered before anything is raised; a long list is cut and the rest counted."""

from __future__ import annotations

from lapwright.errors import BadInput, Fault

#: Faults listed one by one; any beyond are counted.
MOST_LISTED = 100


class FaultList:
    """Gathers faults; `settle` raises `BadInput` with all of them, or returns when there are none."""

    def __init__(self, subject: str) -> None:
        self.subject = subject
        self.total = 0
        self._listed: list[Fault] = []

    def add(
        self, sentence: str, *, code: str, row: int | None = None, field: str | None = None, unit: str | None = None
    ) -> None:
        """Take in one fault in words."""
        self.take(Fault(sentence=sentence, code=code, row=row, field=field, unit=unit))

    def take(self, fault: Fault) -> None:
        """Take in one fault."""
        self.total += 1
        if len(self._listed) < MOST_LISTED:
            self._listed.append(fault)

    def settle(self) -> None:
        """Raise `BadInput` when there are faults, in the order of rows."""
        if not self._listed:
            return
        listed = sorted(self._listed, key=lambda fault: fault.row or 0)
        unlisted = self.total - len(listed)
        if unlisted:
            listed.append(
                Fault(
                    sentence=f"{unlisted} further faults are not listed; mend these first and read the file again.",
                    code="list.cut",
                )
            )
        raise BadInput(listed, subject=self.subject, total=self.total)
