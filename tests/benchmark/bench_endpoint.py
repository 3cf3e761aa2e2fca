"""Cost of a reading: live with a judgement each, and a recorded run in bulk, against the raw rule on the same stream."""

import time

import numpy as np

from lapwright.process.endpoint import EndpointConfig, judge, start, update
from lapwright.process.endpoint_follow import followed_run
from lapwright.sim.runs import GaugeTruth, RunTruth, simulated_run

RATE = 2e-6 / 60.0
CONFIG = EndpointConfig(target=1e-3, rate=RATE)  # never reached: every reading is looked at
READINGS = 6000  # 20 minutes at five a second
ALLOWED_LIVE, ALLOWED_BULK = 20e-6, 6e-6  # s


def rows():
    """Best of five, in seconds a reading."""
    run = simulated_run(RunTruth(rate=RATE, duration=1200.0), GaugeTruth(), rng=np.random.default_rng(1))
    times, lengths = run.time.tolist(), run.length.tolist()
    raw = _best(lambda: _raw(times, lengths))
    live = _best(lambda: _live(times, lengths))
    bulk = _best(lambda: followed_run(CONFIG, times, lengths))
    runs = 3600.0 / (bulk * READINGS)
    return [
        _row("endpoint, live: update and judge", live, raw, f"allowed {ALLOWED_LIVE * 1e6:.0f} µs a reading"),
        _row(
            "endpoint, recorded runs in bulk",
            bulk,
            raw,
            f"allowed {ALLOWED_BULK * 1e6:.0f} µs a reading; {runs:,.0f} runs of 20 min an hour on one core",
        ),
    ]


def _row(name, ours, reference, conditions):
    return {
        "name": name,
        "ours_s": ours,
        "reference_s": reference,
        "ratio": ours / reference,
        "conditions": f"raw reading against the target as reference; {conditions}",
    }


def _best(work):
    took = []
    for _ in range(5):
        begun = time.process_time()
        work()
        took.append(time.process_time() - begun)
    return min(took) / READINGS


def _live(times, lengths):
    state = start(CONFIG, 0.0)
    for moment, length in zip(times, lengths, strict=True):
        update(state, moment, length)
        judge(state, moment)


def _raw(times, lengths):
    for moment, length in zip(times, lengths, strict=True):
        if length >= CONFIG.target:
            return moment
    return None
