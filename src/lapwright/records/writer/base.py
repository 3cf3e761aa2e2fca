"""How a row is written: signed, in a transaction, a changed row with its version checked and its change noted."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any, TypeVar

from django.db.models import F, Model

from lapwright.errors import BadInput, Conflict, Fault
from lapwright.model.readings import Signature
from lapwright.records import models
from lapwright.records.chain import note
from lapwright.records.faults import one_transaction
from lapwright.records.models.base import Versioned
from lapwright.records.plain_text import need_plain_text

Row = TypeVar("Row", bound=Model)
AnyVersioned = TypeVar("AnyVersioned", bound=Versioned)


def signed(signature: Signature) -> dict[str, Any]:
    """The columns that sign a row. Raises `BadInput` for a person unknown or a time without zone."""
    faults = []
    if signature.at.tzinfo is None:
        faults.append(Fault(sentence="The time of the write has no time zone; give it in UTC.", field="at"))
    if not models.Person.objects.filter(username=signature.by).exists():
        known = ", ".join(models.Person.objects.order_by("username").values_list("username", flat=True)[:10])
        faults.append(
            Fault(
                sentence=f"Nobody called {signature.by!r} is recorded; known are {known}. Add the person.", field="by"
            )
        )
    if faults:
        raise BadInput(faults, subject="The signature of the write")
    return {"by": signature.by, "reason": signature.reason, "at": signature.at.astimezone(UTC)}


def add(model: type[Row], signature: Signature, **columns: Any) -> Row:
    """Write a new row."""
    with one_transaction():
        return model._default_manager.create(**signed(signature), **columns)  # noqa: SLF001  Django's public name


def locked(model: type[AnyVersioned], **key: Any) -> AnyVersioned:
    """A row held against other writers until the transaction ends."""
    from lapwright.records.queries import find

    name, wanted = next(iter(key.items()))
    found: AnyVersioned = find(model._default_manager.select_for_update(), name, wanted)  # noqa: SLF001  as above
    return found


def change(row: Versioned, signature: Signature, *, version: int | None = None, **columns: Any) -> None:
    """Write new values to a row, raise its version and note the change.

    `version` is the one the asker saw. Raises `Conflict`, saying what changed since, when it is not the latest, and
    `BadInput` for text that cannot be kept.
    """
    need_plain_text(columns.items())
    with one_transaction():
        table = type(row).__name__.lower()
        if version is not None and version != row.version:
            raise Conflict(_what_changed(table, row, version), found=row.version, given=version)
        before = {name: getattr(row, name) for name in columns}
        different = {name: value for name, value in columns.items() if before[name] != value}
        signature_columns = signed(signature)
        rows = type(row)._default_manager  # noqa: SLF001  Django's public name for it
        updated = rows.filter(pk=row.pk, version=row.version).update(version=F("version") + 1, **columns)
        if updated != 1:
            raise Conflict(_what_changed(table, row, row.version))
        models.Change.objects.create(
            table=table,
            row=row.pk,
            version=row.version + 1,
            fields={name: [_plain(before[name]), _plain(value)] for name, value in different.items()},
            **signature_columns,
        )
        row.version += 1
        for name, value in columns.items():
            setattr(row, name, value)
        note([row])


# ----------------------------------------------------------------------------------------------------------------------


def _plain(value: Any) -> Any:
    if isinstance(value, datetime | date):
        return value.isoformat()
    return value.pk if isinstance(value, Model) else value


def _what_changed(table: str, row: Versioned, version: int) -> str:
    since = models.Change.objects.filter(table=table, row=row.pk, version__gt=version).order_by("version")
    told = "; ".join(
        f"{change.by} at {change.at:%Y-%m-%d %H:%M} UTC: {_told(change.fields) or 'no field'}" for change in since[:5]
    )
    return (
        f"This {table} was changed by someone else since you read it (you had version {version}, it is now"
        f" {row.version}). Changed: {told or 'see its history'}. Look at it again; nothing was overwritten."
    )


def _told(fields: dict[str, list[Any]]) -> str:
    return ", ".join(_told_field(name, before, after) for name, (before, after) in fields.items())


def _told_field(name: str, before: Any, after: Any) -> str:
    if isinstance(before, dict) and isinstance(after, dict):
        inner = [key for key in after if before.get(key) != after[key]]
        return ", ".join(f"{key} {_short(before.get(key))} → {_short(after[key])}" for key in inner)
    return f"{name} {_short(before)} → {_short(after)}"


def _short(value: Any) -> str:
    text = "none" if value is None else str(value)
    return text if len(text) <= 60 else text[:57] + "…"
