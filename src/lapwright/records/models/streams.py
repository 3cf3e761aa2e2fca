"""Feeds, requests to the recorder and its answers, streams of readings."""

from __future__ import annotations

from django.db import models

from lapwright.records.models.base import AppendOnly, Unchanging, Versioned
from lapwright.records.models.shelf import Station
from lapwright.records.models.work import Run


class Feed(Versioned):
    """The gauge and the stop output of a station."""

    station = models.OneToOneField(Station, on_delete=models.PROTECT, related_name="feed")
    definition = models.JSONField()


class LiveRequest(AppendOnly):
    """What a person asks of the recorder."""

    station = models.ForeignKey(Station, on_delete=models.PROTECT, related_name="requests")
    kind = models.CharField(max_length=10)
    asked = models.JSONField()


class LiveAnswer(AppendOnly):
    """What the recorder did about a request."""

    request = models.OneToOneField(LiveRequest, on_delete=models.PROTECT, related_name="answer")
    accepted = models.BooleanField()
    code = models.CharField(max_length=60, blank=True)
    sentence = models.TextField(blank=True)
    run = models.ForeignKey(Run, null=True, on_delete=models.PROTECT, related_name="+")


class Stream(AppendOnly):
    """The stream of a run: what the recorder was told at its start. Lengths in m, times in s."""

    run = models.OneToOneField(Run, on_delete=models.PROTECT, related_name="stream")
    feed = models.JSONField(null=True)
    target_m = models.FloatField(null=True)
    time_s = models.FloatField(null=True)
    zero_m = models.FloatField()
    rate_m_per_s = models.FloatField(null=True)


class StreamEnd(AppendOnly):
    """How a stream ended."""

    stream = models.OneToOneField(Stream, on_delete=models.PROTECT, related_name="end")
    outcome = models.CharField(max_length=12)
    after_s = models.FloatField(null=True)
    code = models.CharField(max_length=60, blank=True)
    sentence = models.TextField(blank=True)
    removed_m = models.FloatField(null=True)
    uncertainty_m = models.FloatField(null=True)
    margin_m = models.FloatField(null=True)
    shown_m = models.FloatField(null=True)


class StreamBlock(Unchanging):
    """Readings of ten seconds or 200 of them, packed, with a checksum; never changed."""

    stream = models.ForeignKey(Stream, on_delete=models.PROTECT, related_name="blocks")
    number = models.PositiveIntegerField()
    count = models.PositiveIntegerField()
    data = models.BinaryField()

    class Meta:
        ordering = ["stream_id", "number"]
        constraints = [models.UniqueConstraint(fields=["stream", "number"], name="one_block_per_number")]


class StreamDrop(AppendOnly):
    """The raw readings of a stream were let go: how many, their SHA-256 block after block, and a thinned picture."""

    stream = models.OneToOneField(Stream, on_delete=models.PROTECT, related_name="drop")
    blocks = models.PositiveIntegerField()
    readings = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)
    picture = models.JSONField()


class StreamTail(models.Model):
    """Readings committed since the last block, a few tenths of a second each; they become a block and go."""

    stream = models.ForeignKey(Stream, on_delete=models.PROTECT, related_name="tails")
    number = models.PositiveIntegerField()
    count = models.PositiveIntegerField()
    data = models.BinaryField()

    class Meta:
        ordering = ["stream_id", "number", "pk"]


class StreamEvent(Unchanging):
    """Something that happened in a stream; never changed."""

    stream = models.ForeignKey(Stream, on_delete=models.PROTECT, related_name="events")
    kind = models.CharField(max_length=12)
    time_s = models.FloatField()
    code = models.CharField(max_length=60, blank=True)
    sentence = models.TextField(blank=True)

    class Meta:
        ordering = ["stream_id", "pk"]
