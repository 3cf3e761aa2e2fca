"""A station as Countdown and the list show it: from the records, and from its latest batch when there is one."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from django.utils.translation import gettext as _

from lapwright.app import live, stations
from lapwright.app.recorder.broadcast import AWAY
from lapwright.app.stations import StationNow
from lapwright.model.live import LiveBatch, RecordedStream
from lapwright.reports.drawing import Band, Level, Line
from lapwright.web.lettering import line_chart
from lapwright.web.live_fields import age_limit, live_fields
from lapwright.web.sentences import decimal

#: An end by a fault fills the screen for this long, until the next run starts.
REMEMBERED = timedelta(hours=12)
TRACE_WIDTH = 240


@dataclass(frozen=True, slots=True, kw_only=True)
class StationCard:
    """A station as shown: shape of the screen, state in a word, the big number or a word in its place.

    `live` holds the fields of the latest batch; None when nothing was heard. `alarm` is what is wrong and what to do.
    """

    now: StationNow
    live: dict[str, Any] | None
    age_limit: float
    shape: str
    state: str
    number: str
    unit: str
    alarm: str
    ended_by_fault: bool

    @property
    def is_followed(self) -> bool:
        """Whether a run goes on that the recorder was asked to follow."""
        return self.now.stream is not None

    @property
    def is_by_hand(self) -> bool:
        """Whether a run goes on of which the recorder knows nothing."""
        return self.now.run is not None and self.now.stream is None

    @property
    def wafer_id(self) -> str:
        """The wafer that runs; empty when none does."""
        return "" if self.now.run is None else self.now.run.wafer_id

    @property
    def is_dry(self) -> bool:
        """Whether nothing would be sent to the machine."""
        return self.now.feed is None or self.now.feed.stop_output.startswith("dry-run")


def card_of(now: StationNow, batch: LiveBatch | None, *, at: datetime) -> StationCard:
    """How a station is shown."""
    fields = None if batch is None else live_fields(batch)
    limit = age_limit(now.feed)
    fault = _recent_fault(now, at)
    number, unit = _number(fields, limit)
    shape, state, alarm = _look(now, fields, fault)
    return StationCard(
        now=now,
        live=fields,
        age_limit=limit,
        shape=shape,
        state=state,
        number=number or state,
        unit=unit,
        alarm=alarm,
        ended_by_fault=fault is not None,
    )


def station_cards(at: datetime, *, only_followed: bool = False) -> list[StationCard]:
    """All stations as they stand, or those with a run under the recorder; it is asked only about what it can know."""
    every = [one for one in stations.list_stations() if one.stream is not None or not only_followed]
    heard = asyncio.run(
        stations.latest_batches(frozenset(one.station.station_id for one in every if one.feed or one.stream))
    )
    return [card_of(one, heard.get(one.station.station_id), at=at) for one in every]


def trace_drawing(now: StationNow, card: StationCard) -> str:
    """Removed against time of the run that is going, or of the last one; empty when nothing was recorded."""
    stream = now.stream or now.last
    picture = () if stream is None else live.run_picture(stream.run_id, width=TRACE_WIDTH)
    if stream is None or len(picture) < 2:
        return ""
    times, low, high = (np.array(column) for column in zip(*picture, strict=True))
    minutes = times / 60.0
    levels = [] if stream.target is None else [Level(y=stream.target * 1e6, name=_("target"))]
    margin = _margin(stream, card)
    if stream.target is not None and margin:
        levels.append(Level(y=(stream.target - margin) * 1e6, name=_("stop")))
    return line_chart(
        [Line(x=minutes, y=(low + high) * 0.5e6, name=_("removed"))],
        bands=[Band(x=minutes, low=low * 1e6, high=high * 1e6)],
        levels=levels,
        x_label=_("time, min"),
        y_label=_("removed, µm"),
        title=_("Removed by the gauge"),
    )


# ----------------------------------------------------------------------------------------------------------------------


def _recent_fault(now: StationNow, at: datetime) -> RecordedStream | None:
    """The last run when it ended by a fault and nothing has started since."""
    last = now.last
    if last is None or now.run is not None or last.outcome not in ("fault", "interrupted"):
        return None
    return last if last.ended is not None and at - last.ended < REMEMBERED else None


def _number(fields: dict[str, Any] | None, limit: float) -> tuple[str, str]:
    """Number and unit of what is left; nothing when there is none, or none that is young enough."""
    if fields is None or fields["word"] not in ("running", "stopping"):
        return "", ""
    if fields["left_um"] is not None:
        if fields["age_s"] is None or fields["age_s"] > limit:
            return "", ""
        return decimal(f"{fields['left_um']:.1f}").replace("-", "\u2212"), _("µm left")
    if fields["time_left_s"] is None:
        return "", ""
    whole = round(fields["time_left_s"])
    return f"{whole // 60}:{whole % 60:02d}", _("min left")


def _look(now: StationNow, fields: dict[str, Any] | None, fault: RecordedStream | None) -> tuple[str, str, str]:
    """Shape, state and alarm."""
    if fields is not None and fields["word"] in ("running", "stopping"):
        return _look_running(now, fields)
    if now.stream is not None:
        return "wrong", _("no recorder"), AWAY
    if fault is not None:
        return "wrong", _("stopped by a fault"), fault.ended_sentence
    if now.run is not None:
        return "calm", _("running by hand"), _("The recorder does not follow this run. Record its end on its wafer.")
    return _look_at_rest(now, fields)


def _look_running(now: StationNow, fields: dict[str, Any]) -> tuple[str, str, str]:
    if fields["target_um"] is not None and (fields["age_s"] is None or fields["age_s"] > age_limit(now.feed)):
        return "wrong", _("gauge silent"), fields["sentence"] or _("The gauge says nothing. Look at the machine.")
    return fields["shape"], fields["state"], fields["sentence"]


def _look_at_rest(now: StationNow, fields: dict[str, Any] | None) -> tuple[str, str, str]:
    if now.feed is None:
        return "calm", _("no gauge"), ""
    if fields is not None:
        silent = fields["gauge_sentence"] if fields["word"] == "no_gauge" else ""
        return fields["shape"], fields["state"], fields["sentence"] or silent
    return "doubt", _("no recorder"), AWAY


def _margin(stream: RecordedStream, card: StationCard) -> float | None:
    if stream.ended is not None:
        return stream.ended_margin
    margin = None if card.live is None else card.live["margin_um"]
    return None if margin is None else float(margin) * 1e-6
