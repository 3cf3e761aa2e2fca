"""Libraries that only some sources need, loaded when such a source is opened."""

from __future__ import annotations

import importlib
from typing import Any

from lapwright.errors import GaugeError


def load_extra(module: str, *, package: str, purpose: str) -> Any:
    """A library of the extra `gauges`. Raises `GaugeError` with what to install."""
    try:
        return importlib.import_module(module)
    except ImportError as error:
        raise GaugeError(
            f"{purpose} needs the library {package}, which is not installed. Install it with: pip install {package}"
        ) from error
