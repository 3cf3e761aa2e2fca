"""The readings of a run as a stream file, which the replay of a gauge reads back."""

from __future__ import annotations

import io

import numpy as np
from numpy.typing import NDArray

from lapwright.formats.edge_values import um


def stream_csv(times: NDArray[np.float64], lengths: NDArray[np.float64]) -> str:
    """A table ``time_s,length_um``, a row for each reading, as they came.

    Parameters
    ----------
    times
        Time in the run [s], shape (n,).
    lengths
        Length on the gauge's scale [m], shape (n,).

    Examples
    --------
    >>> print(stream_csv(np.array([0.0, 0.2]), np.array([412e-6, 413e-6])), end="")
    time_s,length_um
    0.0,412.0
    0.2,413.0
    """
    out = io.StringIO()
    out.write("time_s,length_um\n")
    for time, length in zip(times.tolist(), lengths.tolist(), strict=True):
        out.write(f"{time!r},{um(length)!r}\n")
    return out.getvalue()
