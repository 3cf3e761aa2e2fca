"""What every table shares: who wrote a row, when and why; rows that never change; rows that change by versions."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar, NoReturn

from django.db import models

from lapwright.errors import Conflict
from lapwright.records import chain
from lapwright.records.faults import one_transaction
from lapwright.records.plain_text import need_plain_text


class Chained(models.Model):
    """A row whose every write is noted in the audit chain; `chained` names its columns there, None is all of them."""

    chained: ClassVar[tuple[str, ...] | None] = None

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Write the row and note it. Raises `BadInput` for text that cannot be kept."""
        need_plain_text((name, value) for name, value in vars(self).items() if name != "_state")
        with one_transaction():
            super().save(*args, **kwargs)
            chain.note([self])


class Signed(Chained):
    """A row that says who wrote it, when and why."""

    by = models.CharField(max_length=150)
    reason = models.TextField(blank=True)
    at = models.DateTimeField()

    class Meta:
        abstract = True


class FrozenRows(models.QuerySet[Any]):
    """Rows that can be added and read, not changed or deleted."""

    def bulk_create(self, objs: Iterable[Any], *args: Any, **kwargs: Any) -> list[Any]:
        """Write many rows and note them."""
        with one_transaction():
            written = super().bulk_create(objs, *args, **kwargs)
            chain.note(written)
            return written

    def update(self, **_: Any) -> NoReturn:
        """Refused."""
        _refuse(self.model, "changed")

    def delete(self) -> NoReturn:
        """Refused."""
        _refuse(self.model, "deleted")

    def bulk_update(self, *_: Any, **__: Any) -> NoReturn:
        """Refused."""
        _refuse(self.model, "changed")


class AppendOnly(Signed):
    """A row that is never changed and never deleted; a trigger in the database holds the same."""

    objects = FrozenRows.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Write a new row; an old one is refused."""
        if not self._state.adding:
            _refuse(type(self), "changed")
        super().save(*args, **kwargs)

    def delete(self, *_: Any, **__: Any) -> NoReturn:
        """Refused."""
        _refuse(type(self), "deleted")


class Unchanging(Chained):
    """A row that is never changed and never deleted, signed by the row it belongs to; many of them are written."""

    objects = FrozenRows.as_manager()

    class Meta:
        abstract = True


class Versioned(Signed):
    """A row that changes: signed by its first writer, every later write leaves a `Change` and raises the version."""

    version = models.PositiveIntegerField(default=1)

    class Meta:
        abstract = True


class Change(AppendOnly):
    """One write to a versioned row: the version it made, and for each field the value before and after."""

    table = models.CharField(max_length=40)
    row = models.BigIntegerField()
    version = models.PositiveIntegerField()
    fields = models.JSONField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["table", "row", "version"], name="one_change_per_version"),
        ]


# ----------------------------------------------------------------------------------------------------------------------


def _refuse(model: type[models.Model], what: str) -> NoReturn:
    name = model._meta.verbose_name  # noqa: SLF001  Django's public name for it
    raise Conflict(f"A {name} once recorded is never {what}. Record a correction or a new {name} beside it.")
