"""Where the workers are: on this machine's cores, or behind the scheduler of a cluster."""

from __future__ import annotations

import os
from contextlib import AbstractContextManager

from lapwright.app.workers.port import Workers
from lapwright.errors import BadInput, Fault


def open_workers(count: int | None = None, scheduler: str | None = None) -> AbstractContextManager[Workers]:
    """Workers to be entered: `count` processes here (None: one a core), or all that a scheduler has.

    Raises `BadInput` when both are asked for; `WorkersLost`, on entering, when the scheduler does not answer.
    """
    if scheduler is None:
        from lapwright.app.workers.processes import Processes

        return Processes(count or len(os.sched_getaffinity(0)))
    if count is not None:
        sentence = "Both a number of workers and a scheduler were given; the scheduler has its own. Give one of them."
        raise BadInput([Fault(sentence=sentence, field="workers")])
    from lapwright.app.workers.cluster import Cluster

    return Cluster(scheduler)
