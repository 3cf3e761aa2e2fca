"""The links of the audit chain."""

from __future__ import annotations

from django.db import models

from lapwright.records.models.base import FrozenRows


class ChainLink(models.Model):
    """One transaction that wrote: the digest of each row it wrote, bound to the link before. Never changed.

    `content` holds lines ``row TABLE KEY DIGEST``, ``drop TABLE KEY DIGEST`` for a row that was let go, and
    ``form TABLE COLUMN…`` where the columns of a table that are
    hashed are said for the rows from here on.
    """

    number = models.PositiveBigIntegerField(primary_key=True)
    at = models.DateTimeField()
    by = models.CharField(max_length=150)
    reason = models.TextField(blank=True)
    content = models.TextField()
    previous = models.CharField(max_length=64)
    digest = models.CharField(max_length=64)

    objects = FrozenRows.as_manager()

    class Meta:
        ordering = ["number"]
