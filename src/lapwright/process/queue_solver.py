"""The constraint solver, an extra of the installation."""

from __future__ import annotations

from typing import Any

from lapwright.errors import CannotAnswer


def solver_library() -> Any:
    """The constraint solver, loaded when it is first needed.

    Returns
    -------
    module

    Raises
    ------
    CannotAnswer
        It is not installed.
    """
    try:
        from ortools.sat.python import cp_model
    except ImportError as error:
        raise CannotAnswer(
            "Working out a schedule needs the library ortools, which is not installed."
            " Install it with: pip install 'lapwright[plan]'"
        ) from error
    return cp_model
