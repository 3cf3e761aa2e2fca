"""Routes that are searched beside the pages, and what was found."""

from __future__ import annotations

from django.db import models


class RouteSearch(models.Model):
    """A search for routes by what it is asked: `key` is made from all that the answer rests on.

    `question` is how it can be asked anew; `data` is what was found, `refusal` why nothing was, both empty while it is
    wanted. It can always be made anew. Not in the chain: nothing rests on it.
    """

    key = models.CharField(max_length=64, unique=True)
    question = models.JSONField()
    is_typed = models.BooleanField(default=False)
    asked_at = models.DateTimeField(db_index=True)
    tries = models.PositiveIntegerField(default=0)
    begun_at = models.DateTimeField(null=True)
    made_at = models.DateTimeField(null=True, db_index=True)
    data = models.BinaryField(null=True)
    refusal = models.JSONField(null=True)
