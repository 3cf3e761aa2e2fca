"""Names of several wafers in short, as a list of them is read and written: the shared stem once."""

from __future__ import annotations

from collections.abc import Iterable


def named_together(names: Iterable[str]) -> str:
    """Wafer names in short: the shared stem once, then the rest.

    >>> named_together(["AP-2407-01", "AP-2407-02", "AP-2407-05"])
    'AP-2407-01, -02, -05'
    >>> named_together(["AP-2407-01", "LS-0102-01"])
    'AP-2407-01, LS-0102-01'
    """
    listed = list(names)
    if not listed:
        return ""
    stem = listed[0].rpartition("-")[0]
    if len(listed) > 1 and stem and all(name.rpartition("-")[0] == stem for name in listed):
        tails = ", ".join("-" + name.rpartition("-")[2] for name in listed[1:])
        return f"{listed[0]}, {tails}"
    return ", ".join(listed)
