"""A batch of the recorder as a page shows it: numbers with their unit in the name, words, and the shape of the screen.

The same fields fill the page when it is made on the server and when it is kept up over the socket.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from lapwright.model.live import Feed, LiveBatch
from lapwright.web.sentences import said

#: Share of the silence that stops a run after which a number is no longer shown.
SHOWN_SHARE = 0.8
STALE = 5.0  # s, where no feed says otherwise
MOST_POINTS = 400  # kept for one message
TIME_DIGITS = 2  # of the times of points [s]


def age_limit(feed: Feed | None) -> float:
    """Age beyond which a number of that gauge is replaced by a word [s]."""
    return SHOWN_SHARE * (STALE if feed is None else feed.stale)


def live_fields(batch: LiveBatch) -> dict[str, Any]:
    """A batch in the units of the page, with its words."""
    left = None if batch.target is None or batch.removed is None else batch.target - batch.removed
    fault = batch.faults[0] if batch.faults else None
    return {
        "station": batch.station_id,
        "word": batch.word,
        "state": state_word(batch),
        "shape": shape(batch),
        "sentence": said(batch.sentence or (fault.sentence if fault else "")),
        "fault": fault.code if fault else "",
        "run": batch.run_id,
        "wafer": batch.wafer_id or "",
        "elapsed_s": _rounded(batch.elapsed, 1.0, 2),
        "points": [(round(time, TIME_DIGITS), round(removal * 1e6, 3)) for time, removal in batch.points],
        "removed_um": _rounded(batch.removed, 1e6, 2),
        "removed_expanded_uncertainty_um": _rounded(batch.removed_uncertainty, 2e6, 2),
        "rate_um_per_min": _rounded(batch.rate, 60e6, 3),
        "rate_expanded_uncertainty_um_per_min": _rounded(batch.rate_uncertainty, 120e6, 3),
        "target_um": _rounded(batch.target, 1e6, 2),
        "left_um": _rounded(left, 1e6, 2),
        "margin_um": _rounded(batch.margin, 1e6, 2),
        "time_left_s": _rounded(batch.time_left, 1.0, 1),
        "time_left_low_s": _rounded(batch.time_left_low, 1.0, 1),
        "time_left_high_s": _rounded(batch.time_left_high, 1.0, 1),
        "finish": finish_band(batch),
        "chance_over_target": _rounded(batch.chance_over_target, 1.0, 4),
        "stop": batch.stop_state,
        "stop_word": stop_word(batch.stop_state),
        "stop_sentence": said(batch.stop_sentence),
        "gauge_sentence": said(batch.source_sentence),
        "reading_um": _rounded(batch.reading, 1e6, 2),
        "age_s": _rounded(batch.reading_age, 1.0, 2),
        "readings": batch.readings,
        "stored": batch.stored,
    }


def shape(batch: LiveBatch) -> str:
    """What the whole screen looks like: calm, doubt, ending or wrong."""
    if batch.word == "recorder_away" or batch.advice == "stop_fault":
        return "wrong"
    if batch.word == "stopping":
        return "ending"
    return "doubt" if batch.sentence and batch.word == "running" else "calm"


def state_word(batch: LiveBatch) -> str:
    """What the station does, in a word or two."""
    if batch.advice == "stop_fault":
        return _("fault: stopping")
    return {
        "recorder_away": _("no recorder"),
        "no_gauge": _("gauge silent"),
        "idle": _("at rest"),
        "running": _("running"),
        "stopping": _("stopping"),
    }[batch.word]


def stop_word(stop_state: str) -> str:
    """The state of the stop in one word."""
    words = {
        "closed": _("released"),
        "waiting": _("waiting"),
        "may_run": _("armed"),
        "stopped": _("sent"),
        "unreachable": _("unreachable"),
    }
    return words.get(stop_state, stop_state)


def finish_band(batch: LiveBatch) -> str:
    """When the stop is expected, of day: one time, or the 90 % interval."""
    if batch.time_left is None or batch.word != "running":
        return ""
    low = batch.time_left if batch.time_left_low is None else batch.time_left_low
    high = batch.time_left if batch.time_left_high is None else batch.time_left_high
    form = "%H:%M:%S" if high < 300.0 else "%H:%M"
    first, last = (timezone.localtime(batch.at + timedelta(seconds=left)).strftime(form) for left in (low, high))
    return first if first == last else f"{first} … {last}"


def merged(older: dict[str, Any] | None, newer: dict[str, Any]) -> dict[str, Any]:
    """The newer fields, with the points of both as long as they belong to one run; the oldest points go first."""
    if older is None or older["run"] != newer["run"]:
        return newer
    return newer | {"points": [*older["points"], *newer["points"]][-MOST_POINTS:]}


# ----------------------------------------------------------------------------------------------------------------------


def _rounded(value: float | None, factor: float, digits: int) -> float | None:
    return None if value is None else round(value * factor, digits)
