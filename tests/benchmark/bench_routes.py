"""A full route search with its finalists drawn, against the same number of draws of the last stage alone."""

import time

import numpy as np

from lapwright.library import load
from lapwright.process.planning import search_routes
from lapwright.process.route_making import Question
from lapwright.sim import cast

ALLOWED = 1.0  # s on one core
DRAWS = 10_000


def rows():
    """Best of five; the reference only draws thickness for as many finalists."""
    library = load()
    question = Question(gauge=cast.DROP_GAUGE, draws=DRAWS)
    found = search_routes(cast.ORDER, library, question, generator=np.random.default_rng(1))
    ours = _best(lambda: search_routes(cast.ORDER, library, question, generator=np.random.default_rng(1)))
    reference = _best(lambda: [np.random.default_rng(1).standard_normal((20, DRAWS)) for _ in found.routes])
    return [
        {
            "name": "route search, lithium tantalate 500 to 100 µm",
            "ours_s": ours,
            "reference_s": reference,
            "ratio": ours / reference,
            "conditions": f"{found.weighed:,} candidates, {DRAWS:,} draws on the finalists; allowed {ALLOWED:g} s; "
            "reference: that many normal numbers",
        }
    ]


def _best(work):
    took = []
    for _ in range(5):
        begun = time.process_time()
        work()
        took.append(time.process_time() - begun)
    return min(took)
