"""What is told about a computed number: what it is, its formula, its inputs, its source, and how far to trust it."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.functional import Promise

Text = str | Promise


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """One computed number. Formulas are text that is read aloud as it stands; `symbols` says what each letter means.

    `inputs` says what it is computed from and where that stands, `doubt` where its uncertainty comes from or how far
    it holds, `page` the page of formulas in the documentation that holds its check.
    """

    title: Text
    says: Text
    formula: Text
    symbols: Text
    inputs: Text
    doubt: Text
    source: Text
    page: str
