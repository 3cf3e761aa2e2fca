"""Use case: readings of a set that come together, as cells from a spreadsheet or the text of a file.

One reading a row: its value, or site and value. All of them are recorded, or none.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from lapwright.app import readings, set_values
from lapwright.errors import BadInput, Fault, LapwrightError
from lapwright.model.job import RecordedSet, SetProgress

MOST_ROWS = 5000
ZERO = "zero"  # stands where a site would, for a reading of the gauge's zero


@dataclass(frozen=True, slots=True, kw_only=True)
class PastedRow:
    """One row: its number, counted from 1, the site or `ZERO` or None when it names none, and the value as entered."""

    number: int
    site: str | None
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtfulRow:
    """A row that does not fit the others, and the question about it."""

    row: PastedRow
    question: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PasteAnswer:
    """What became of the rows: so many recorded; or none, with the questions to answer by sending them once more."""

    recorded: int
    doubtful: tuple[DoubtfulRow, ...]
    progress: SetProgress


def record_pasted(
    set_id: int, text: str, *, confirmed: bool = False, by: str, reason: str, at: datetime
) -> PasteAnswer:
    """Record the rows of a text in an open set, at the sites they name or at the next ones.

    Doubtful rows are answered with questions and nothing is recorded; sent again with `confirmed` they are kept, each
    with its question beside it. Raises `BadInput` with every fault, row by row; then nothing is recorded either.
    """
    recorded = readings.show_set(set_id)
    rows = pasted_rows(text, recorded.pattern.labels)
    _check(recorded, rows)
    doubtful: list[DoubtfulRow] = []
    try:
        _record(set_id, rows, doubtful, confirmed=confirmed, by=by, reason=reason, at=at)
    except _Undecided:
        recorded_now = 0
    else:
        recorded_now = len(rows)
    progress = readings.set_progress(readings.show_set(set_id))
    return PasteAnswer(recorded=recorded_now, doubtful=tuple(doubtful), progress=progress)


def pasted_rows(text: str, labels: tuple[str, ...]) -> tuple[PastedRow, ...]:
    r"""The rows of a text: cells apart by tab or semicolon, or by a comma after a site; a row of headings is left out.

    >>> pasted_rows("site\tthickness\nC\t500,1\n\nA1;500.3\n499.8", ("C", "A1"))[1]
    PastedRow(number=4, site='A1', text='500.3')
    """
    rows: list[PastedRow] = []
    for number, line in enumerate(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"), start=1):
        cells = _cells(line, labels)
        if not cells or (not rows and not any(letter.isdigit() for letter in cells[-1])):
            continue
        site = _site(cells[0], labels) if len(cells) > 1 else None
        rows.append(PastedRow(number=number, site=site, text=cells[-1]))
    return tuple(rows)


# ----------------------------------------------------------------------------------------------------------------------


class _Undecided(Exception):
    """Rows are doubtful: what was written so far is taken back."""


def _cells(line: str, labels: tuple[str, ...]) -> list[str]:
    cells = [cell.strip().strip('"').strip() for cell in line.replace(";", "\t").split("\t")]
    cells = [cell for cell in cells if cell]
    if len(cells) == 1 and "," in cells[0]:
        head, _, tail = (part.strip() for part in cells[0].partition(","))
        if head in labels or head.lower() == ZERO:
            return [head, tail]
    return cells


def _site(cell: str, labels: tuple[str, ...]) -> str:
    if cell.lower() == ZERO:
        return ZERO
    return next((label for label in labels if label.lower() == cell.lower()), cell)


def _check(recorded: RecordedSet, rows: tuple[PastedRow, ...]) -> None:
    faults = []
    if not rows:
        faults.append(Fault(sentence="There is no reading in the text; expected one value a row. Paste the column."))
    if len(rows) > MOST_ROWS:
        faults.append(Fault(sentence=f"There are {len(rows)} rows; at most {MOST_ROWS} are taken at once. Send less."))
    for row in rows[:MOST_ROWS]:
        if row.site is not None and row.site != ZERO and row.site not in recorded.pattern.labels:
            known = ", ".join(recorded.pattern.labels)
            sentence = f"Row {row.number}: there is no site {row.site!r} in this set; its sites are {known}."
            faults.append(Fault(sentence=sentence, row=row.number, field="site"))
        try:
            set_values.length_of(row.text, recorded.unit)
        except LapwrightError as error:
            faults.append(Fault(sentence=f"Row {row.number}: {error.sentence}", row=row.number, field="value"))
    expects_zero = readings.set_progress(recorded).expected == "zero_before"
    if rows and expects_zero and rows[0].site != ZERO:
        sentence = "The zero of the gauge is read first: type it, or put it into a first row as “zero” and its value."
        faults.append(Fault(sentence=sentence, row=rows[0].number, field="site"))
    if faults:
        raise BadInput(faults, subject="The readings")


def _record(
    set_id: int, rows: tuple[PastedRow, ...], doubtful: list[DoubtfulRow], *, confirmed: bool, by: str, reason: str,
    at: datetime,
) -> None:  # fmt: skip
    """Record row after row in one transaction, so that each is held against those before it."""
    from lapwright.records import writer

    with writer.transaction():
        for row in rows:
            if row.site == ZERO:
                sites_read = any(one.kind == "site" for one in readings.show_set(set_id).readings)
                when = "after" if sites_read else "before"
                readings.record_zero(set_id, row.text, when=when, by=by, reason=reason, at=at)  # type: ignore[arg-type]
                continue
            site = row.site
            answer = readings.record_reading(
                set_id, row.text, site=site, confirmed=confirmed, by=by, reason=reason, at=at
            )
            if answer.question is not None:
                doubtful.append(DoubtfulRow(row=row, question=answer.question))
                readings.record_reading(set_id, row.text, site=site, confirmed=True, by=by, reason=reason, at=at)
        if doubtful:
            raise _Undecided
