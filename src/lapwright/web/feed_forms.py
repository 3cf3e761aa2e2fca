"""Form of the gauge of a station: where its readings come from, how its machine is stopped, what is known of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from lapwright.app import gauges
from lapwright.model.live import Feed
from lapwright.web.forms import LengthField, NumberField
from lapwright.web.sentences import printed

_ADDRESS = {"autocomplete": "off", "spellcheck": "false", "autocapitalize": "none"}


class FeedForm(forms.Form):
    """A feed as typed; lengths with their unit, times in seconds."""

    version = forms.IntegerField(required=False, widget=forms.HiddenInput)
    source = forms.CharField(
        label=_("Readings come from"), max_length=400, widget=forms.TextInput(_ADDRESS),
        help_text=_("For example serial:/dev/ttyUSB0?unit=mm, tcp:10.0.0.7:4001, or replay:run.csv?speed=10."),
    )  # fmt: skip
    stop_output = forms.CharField(
        label=_("The stop goes to"), max_length=400, initial="dry-run:", widget=forms.TextInput(_ADDRESS),
        help_text=_("dry-run: sends nothing to the machine."),
    )  # fmt: skip
    gauge_id = forms.ChoiceField(
        label=_("Gauge on record"), required=False, help_text=_("No run starts without one, calibrated and in date.")
    )
    channel = forms.CharField(label=_("Channel"), required=False, max_length=60)
    direction = forms.ChoiceField(
        label=_("With removal the length"), choices=[("growing", _("grows")), ("shrinking", _("shrinks"))]
    )
    resolution = LengthField(label=_("Smallest step of the gauge"), initial="1 µm")
    noise = LengthField(label=_("Noise of one reading"), initial="0.5 µm", help_text=_("Standard deviation, a guess."))
    latency_s = NumberField(label=_("From the stop to rest, s"), least=0.0, initial="1", max_length=20)
    latency_spread_s = NumberField(label=_("its standard uncertainty, s"), least=0.0, initial="0.1", max_length=20)
    stale_s = NumberField(label=_("Silence that stops a run, s"), initial="5", max_length=20)
    drift_limit = LengthField(
        label=_("Drift in a run that cannot be told from removal"), initial="0 µm", help_text=_("At most.")
    )

    def __init__(self, *args: Any, on: date, **options: Any) -> None:
        super().__init__(*args, **options)
        every = [one.gauge.gauge_id for one in gauges.list_gauges(on=on)]
        if len(every) == 1:
            self.fields["gauge_id"].initial = every[0]
        self.fields["gauge_id"].choices = [("", _("none")), *((name, name) for name in every)]  # type: ignore[attr-defined]

    def feed(self, station_id: str, known: Feed | None) -> Feed:
        """The feed as typed; what the form does not ask stays as it is."""
        data = self.cleaned_data
        base = known or Feed(station_id=station_id, source=data["source"])
        return replace(
            base,
            source=data["source"],
            stop_output=data["stop_output"],
            gauge_id=data["gauge_id"],
            channel=data["channel"],
            direction=data["direction"],
            resolution=data["resolution"],
            noise=data["noise"],
            latency=data["latency_s"],
            latency_spread=data["latency_spread_s"],
            stale=data["stale_s"],
            drift_limit=data["drift_limit"],
        )


def filled(feed: Feed, version: int) -> dict[str, Any]:
    """A feed as the form shows it."""
    lengths = {
        name: printed(getattr(feed, name), "µm", "length", digits=3) for name in ("resolution", "noise", "drift_limit")
    }
    return {
        "version": version, "source": feed.source, "stop_output": feed.stop_output, "gauge_id": feed.gauge_id,
        "channel": feed.channel, "direction": feed.direction, "latency_s": f"{feed.latency:g}",
        "latency_spread_s": f"{feed.latency_spread:g}", "stale_s": f"{feed.stale:g}", **lengths,
    }  # fmt: skip
