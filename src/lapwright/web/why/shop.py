"""Numbers of the shop worked out: when to order, by when a job is done, what a run has removed and when it stops."""

from __future__ import annotations

import asyncio
import math
from collections.abc import Callable
from datetime import UTC, datetime

from django.urls import reverse
from django.utils.timezone import localtime
from django.utils.translation import gettext as _

from lapwright.app import queue, queue_drafts, stations, supplies
from lapwright.app.queue_kept import Sought
from lapwright.errors import NotFound
from lapwright.model.live import LiveBatch, RecordedStream
from lapwright.web.board_forms import moment_of
from lapwright.web.sentences import said
from lapwright.web.supply_forms import amount_text, shelf_day
from lapwright.web.surroundings import now
from lapwright.web.why.case import Case, Given, Other, Table, bare, figures, per_cent, put, um
from lapwright.web.why.place import Place, picked
from lapwright.web.words import item_name

_PER_MINUTE = 60e6


def stock(place: Place) -> Case:
    """The stock at which to order, from the use a day and the days of delivery."""
    today = shelf_day()
    stocks = [one for one in supplies.item_stocks(supplies.lot_cards(on=today), on=today) if one.outlook is not None]
    found = picked(place.of, {one.item: one for one in stocks}, _("Nothing is used of any lot yet."))
    assert found.outlook is not None  # the others are left out above
    told, days = found.outlook, found.lead_time / 86_400.0
    scale, unit = _measured(found.measure, found.left)
    used = [one * scale for one in found.daily]
    rows = tuple((str(ago), figures(one, 5)) for ago, one in enumerate(used) if one)
    left, planned, use, scatter, point = (
        figures(one * scale, 5) for one in (found.left, found.planned, told.use, told.deviation, told.reorder_point)
    )
    steps = [
        f"μ = {figures(math.fsum(used), 5)}/{len(used)} = {use}\u00a0{unit}/d,  s = {scatter}\u00a0{unit}",
        f"S = {planned} + {use}·{bare(days, 1)} + {bare(1.645, 3)}·{scatter}·√{bare(days, 1)} = {point}\u00a0{unit}",
    ]
    doubt = _("Nothing is used, so nothing runs out.")
    if told.order_in is not None and told.lasts is not None:
        steps.append(f"({left} − {point})/{use} = {bare(told.order_in, 1)}\u00a0d")
        steps.append(_("lasts:") + f" ({left} − {planned})/{use} = {bare(told.lasts, 1)}\u00a0d")
        doubt = _(
            "Lasts %(low)s to %(high)s days in nine of ten courses: until μ·t ± 1.645·s·√t reaches the stock."
        ) % {"low": bare(told.lasts_low or 0.0, 1), "high": bare(told.lasts_high or 0.0, 1)}
    return Case(
        of=item_name(found.item),
        result="–" if found.order_by is None else f"{found.order_by:%Y-%m-%d}",
        given=(
            put("", _("left, usable"), amount_text(found.left, found.measure), reverse("shelf")),
            put("P", _("planned by the stages that wait"), amount_text(found.planned, found.measure)),
            put("L", _("days of delivery"), bare(days, 1)),
            put("n", _("days looked back"), str(len(used))),
            put("", _("today"), f"{today:%Y-%m-%d}"),
        ),
        steps=tuple(steps),
        tables=(Table(title=_("Days on which something was used"), heads=(_("days ago"), unit), rows=rows),),
        doubt=doubt,
        others=tuple(Other(name=item_name(one.item), of=one.item) for one in stocks if one is not found),
    )


def promise(place: Place) -> Case:
    """The chance that an order is done by its date: the schedule played many times."""
    told = moment_of(place.asked.get("at", ""))
    board = queue_drafts.latest(Sought(at=told or queue.moment(now()), is_now=told is None), now()).board
    if board is None:
        raise NotFound(_("The schedule is being worked out. Go back to the Board and look again in a moment."))
    found = picked(place.of, {one.order_id: one for one in board.orders}, _("No order waits for anything."))
    tasks = {task.task_id: task for task in board.now.shop.tasks}
    rows = tuple(
        (
            str(said(one.name)),
            one.place_id,
            _at(datetime.fromtimestamp(one.start, tz=UTC)),
            bare(tasks[one.task_id].duration / 60.0, 1) if one.task_id in tasks else "–",
            bare(tasks[one.task_id].spread, 3) if one.task_id in tasks else "–",
            bare(tasks[one.task_id].shared_spread, 3) if one.task_id in tasks else "–",
        )
        for one in board.tasks
        if one.order_id == found.order_id
    )
    heads = (_("Task"), _("Place"), _("begins"), _("median, min"), _("s of ln t, its own"), _("s, common to its rate"))
    steps = [_("planned, with every task as long as expected: %(at)s") % {"at": _at(found.planned)}]
    if found.chance is not None:
        kept = round(found.chance * queue.DRAWS)
        steps.append(f"P = {kept}/{queue.DRAWS} = {per_cent(found.chance, 2)}")
    steps.append(
        _("quantiles of the plays: 50 %% %(a)s, 80 %% %(b)s, 90 %% %(c)s")
        % {"a": _at(found.even), "b": _at(found.sure_80), "c": _at(found.sure_90)}
    )
    chance = found.chance or 0.0
    spread = math.sqrt(max(chance * (1.0 - chance), 1.0 / queue.DRAWS) / queue.DRAWS)
    return Case(
        of=found.order_id,
        result="–" if found.chance is None else per_cent(found.chance, 2),
        given=(
            put("N", _("plays of the schedule"), str(queue.DRAWS)),
            put("", _("its date"), "–" if found.due is None else _at(found.due)),
        ),
        steps=tuple(steps),
        tables=(Table(title=_("Its tasks, with how well their lengths are known"), heads=heads, rows=rows),),
        doubt=_("± %(u)s (95 %%) from the number of plays alone; breakdowns and new orders are not in it.")
        % {"u": per_cent(1.96 * spread, 2)},
        others=tuple(Other(name=one.order_id, of=one.order_id) for one in board.orders if one is not found),
    )


def removed(place: Place) -> Case:
    """What the run has removed, with what the estimate rests on."""
    stood = stations.show_station(place.name("station_id"))
    stream, batch = _followed(stood)
    found, u = (batch.removed, batch.removed_uncertainty) if batch else (stream.ended_removed, stream.ended_uncertainty)
    steps = []
    if batch and batch.rate is not None:
        spread = figures(2.0 * (batch.rate_uncertainty or 0.0) * _PER_MINUTE, 3)
        steps.append(f"r = {figures(batch.rate * _PER_MINUTE, 4)} ± {spread}\u00a0µm/min")
    return Case(
        of=_("%(wafer)s at %(station)s") % {"wafer": stream.wafer_id, "station": stream.station_id},
        result=um(found, 2),
        given=(*_feed(stream), put("n", _("readings"), str(batch.readings if batch else stream.readings))),
        steps=tuple(steps),
        doubt="–" if u is None else _("± %(u)s (k = 2)") % {"u": um(2.0 * u, 2)},
        files=((_("every reading of the run (CSV)"), reverse("station_readings", args=[stream.station_id])),)
        if stream.dropped is None
        else (),
    )


def stop(place: Place) -> Case:
    """When the stop is asked: removal at the end of the latency against target less margin."""
    stood = stations.show_station(place.name("station_id"))
    stream, batch = _followed(stood)
    target = stream.target
    if target is None:
        raise NotFound(_("This run goes by the clock; no gauge stops it."))
    at = batch.removed if batch else stream.ended_removed
    margin = batch.margin if batch else stream.ended_margin
    steps = []
    result = um(target, 2)
    if at is not None and margin is not None:
        latency = 0.0 if stream.feed is None else stream.feed.latency
        rate = batch.rate if batch and batch.rate is not None else None
        ahead = at if rate is None else at + rate * latency
        aim = target - margin
        steps.append(_("target − margin:") + f" {bare(target * 1e6, 3)} − {bare(margin * 1e6, 3)} = {um(aim, 3)}")
        if rate is not None:
            steps.append(f"m + r·t_l = {bare(at * 1e6, 3)} + {figures(rate * 1e6)}·{bare(latency, 2)} = {um(ahead, 3)}")
            if rate > 0.0:
                left = max(0.0, (aim - ahead) / rate)
                steps.append(
                    f"({bare(aim * 1e6, 3)} − {bare(ahead * 1e6, 3)})/{figures(rate * 1e6)} = {bare(left, 1)}\u00a0s"
                )
        else:
            steps.append(_("the stop was asked at %(m)s") % {"m": um(at, 3)})
    doubt = "–"
    if batch and batch.time_left_low is not None and batch.time_left_high is not None:
        doubt = _("Between %(low)s and %(high)s s from now, in nine of ten such runs.") % {
            "low": bare(batch.time_left_low, 0),
            "high": bare(batch.time_left_high, 0),
        }
    elif not batch and stream.ended_uncertainty is not None:
        doubt = _("± %(u)s (k = 2) on the removal when the stop was asked.")
        doubt %= {"u": um(2.0 * stream.ended_uncertainty, 2)}
    return Case(
        of=_("%(wafer)s at %(station)s") % {"wafer": stream.wafer_id, "station": stream.station_id},
        result=result,
        given=(put("", _("target"), um(target, 3)), *_feed(stream)),
        steps=tuple(steps),
        doubt=doubt,
    )


SHOP: dict[str, Callable[[Place], Case]] = {"stock": stock, "promise": promise, "removed": removed, "stop": stop}


# ----------------------------------------------------------------------------------------------------------------------


def _at(moment: datetime) -> str:
    """A moment by the clock of the laboratory."""
    return f"{localtime(moment):%Y-%m-%d %H:%M}"


def _measured(measure: str, left: float) -> tuple[float, str]:
    """Factor and unit in which an amount is told."""
    if measure == "count":
        return 1.0, _("pieces")
    if measure == "volume":
        return (1e3, "l") if left >= 1e-3 else (1e6, "ml")
    return (1.0, "kg") if left >= 1.0 else (1e3, "g")


def _followed(stood: stations.StationNow) -> tuple[RecordedStream, LiveBatch | None]:
    """The run that goes on with its latest estimate, else the one that ended last."""
    stream = stood.stream or stood.last
    if stream is None:
        raise NotFound(_("No run of this station was followed by a gauge yet."))
    if stood.stream is None:
        return stream, None
    heard = asyncio.run(stations.latest_batches(frozenset([stream.station_id])))
    return stream, heard.get(stream.station_id)


def _feed(stream: RecordedStream) -> tuple[Given, ...]:
    feed = stream.feed
    found = [
        put("", _("zero of the gauge"), um(stream.zero, 3)),
        put(
            "r₀",
            _("rate planned"),
            "–" if stream.rate is None else f"{figures(stream.rate * _PER_MINUTE, 4)}\u00a0µm/min",
        ),
    ]
    if feed is not None:
        found += [
            put("", _("noise of one reading"), um(feed.noise, 2)),
            put("", _("smallest step of the gauge"), um(feed.resolution, 2)),
            put("t_l", _("latency of the stop"), f"{bare(feed.latency, 2)} ± {bare(feed.latency_spread, 2)}\u00a0s"),
            put("", _("drift that cannot be told from removal"), um(feed.drift_limit, 2)),
        ]
    return tuple(found)
