"""`lapwright record`: the recorder, a process of its own beside the pages."""

from __future__ import annotations

import sys
from dataclasses import replace
from typing import Annotated

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import ByOption, DataOption, open_records, signed
from lapwright.errors import CommandLineError
from lapwright.model.live import Feed

app = typer.Typer(add_completion=False)

_PairsOption = Annotated[
    list[str] | None, typer.Option("--feed", metavar="STATION=ADDRESS", help="Gauge of a station, kept from now on.")
]
_StopOption = Annotated[
    list[str] | None,
    typer.Option("--stop-output", metavar="STATION=ADDRESS", help="Stop output of a station, kept from now on."),
]
_GaugeOption = Annotated[
    list[str] | None,
    typer.Option("--gauge", metavar="STATION=GAUGE", help="Gauge on record whose calibration counts at a station."),
]


@app.command()
def record(
    *,
    data: DataOption = None,
    feeds: _PairsOption = None,
    stop_outputs: _StopOption = None,
    gauges: _GaugeOption = None,
    stations: Annotated[
        list[str] | None,
        typer.Option("--station", metavar="STATION", help="Record this station alone, or these; else every free one."),
    ] = None,
    only_keep: Annotated[bool, typer.Option("--only-keep", help="Keep the feeds and end; record nothing.")] = False,
    by: ByOption = None,
    as_json: JsonOption = False,
) -> None:
    """Follow the gauges of all stations, stop runs at their target, and record every reading.

    Stop advice is advice: the machine's own interlocks stay in charge.
    """
    settings = open_records(data)
    from lapwright.app import live

    known = {one.feed.station_id: one.feed for one in live.list_feeds()}
    for feed in _changed(feeds or [], stop_outputs or [], gauges or [], known):
        live.set_feed(feed, **signed(settings, by, "given to the recorder"))
    kept = [
        {"station": one.feed.station_id, "source": one.feed.source, "stop_output": one.feed.stop_output,
         "gauge": one.feed.gauge_id or None}
        for one in live.list_feeds()
    ]  # fmt: skip
    give({"data": str(settings.data), "feeds": kept}, as_json=as_json, show=lambda _: _show(kept, str(settings.data)))
    if only_keep:
        return
    sys.stdout.flush()
    from lapwright.app.recorder.loop import record_until_ended

    record_until_ended(settings, stations=stations or ())


# ----------------------------------------------------------------------------------------------------------------------


def _changed(feeds: list[str], outputs: list[str], gauges: list[str], known: dict[str, Feed]) -> list[Feed]:
    sources, stops, named = (_pairs(given, option) for given, option in (
        (feeds, "--feed"), (outputs, "--stop-output"), (gauges, "--gauge")
    ))  # fmt: skip
    changed = []
    for station in {**sources, **stops, **named}:
        if station not in known and station not in sources:
            raise CommandLineError(f"Station {station!r} has no feed yet. Give its gauge with --feed.")
        feed = known.get(station) or Feed(station_id=station, source=sources[station])
        changed.append(
            replace(
                feed,
                source=sources.get(station, feed.source),
                stop_output=stops.get(station, feed.stop_output),
                gauge_id=named.get(station, feed.gauge_id),
            )
        )
    return changed


def _pairs(given: list[str], option: str) -> dict[str, str]:
    pairs = {}
    for text in given:
        station, equals, value = text.partition("=")
        if not (station and equals and value):
            raise CommandLineError(f"{option} is {text!r}; write it like STATION=VALUE.")
        pairs[station] = value
    return pairs


def _show(kept: list[dict[str, str | None]], folder: str) -> None:
    typer.echo(f"Lapwright records into {folder} – stop with Ctrl-C")
    for one in kept:
        typer.echo(f"  {one['station']}: {one['source']}, stop output {one['stop_output']}")
    if not kept:
        typer.echo("  no station has a gauge yet; give one with --feed STATION=ADDRESS")
    typer.echo("Stop advice is advice: the machine's own interlocks stay in charge.")
