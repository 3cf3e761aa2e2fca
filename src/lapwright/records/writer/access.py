"""Writing roles, passwords, tokens, signatures, and marks of forms that were sent."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from lapwright.errors import Conflict
from lapwright.model.access import Meaning, Role, Scope, Token
from lapwright.model.readings import Signature
from lapwright.records import access_queries, models
from lapwright.records.faults import one_transaction
from lapwright.records.queries import find
from lapwright.records.writer.base import add, change, signed


def grant_role(name: str, role: Role, signature: Signature) -> None:
    """A role from now on; those who lose every right are logged out at their next request."""
    with one_transaction():
        person = find(models.Person.objects.all(), "username", name)
        add(models.Grant, signature, person=person, role=role)


def set_password(name: str, password: str, signature: Signature) -> None:
    """A new password; every session of the person ends with the old one. That it was set is noted, itself is not."""
    with one_transaction():
        person = find(models.Person.objects.all(), "username", name)
        person.set_password(password)
        person.save(update_fields=["password"])
        role = access_queries.account(name).role
        add(models.Grant, signature, person=person, role=role)


def add_token(
    person: str, name: str, sha256: str, scopes: Sequence[Scope], expires: datetime, signature: Signature
) -> Token:
    """A new token, known by its digest alone."""
    with one_transaction():
        row = find(models.Person.objects.all(), "username", person)
        add(
            models.ApiToken, signature, person=row, name=name, sha256=sha256, scopes=list(scopes), expires_at=expires,
        )  # fmt: skip
        return access_queries.tokens(person)[-1]


def revoke_token(token_id: int, signature: Signature) -> None:
    """The end of a token."""
    with one_transaction():
        row = find(models.ApiToken.objects.select_for_update(), "pk", token_id, what="token")
        if row.revoked_at is not None:
            raise Conflict(f"The token {row.name!r} was withdrawn already, at {row.revoked_at:%Y-%m-%d %H:%M} UTC.")
        change(row, signature, revoked_at=signature.at)


def add_signing(
    order_id: str,
    document_number: str,
    *,
    meaning: Meaning,
    name: str,
    method: str,
    documents: Sequence[tuple[int, str]],
    signature: Signature,
) -> None:
    """A signature under a certificate."""
    with one_transaction():
        signed(signature)
        add(
            models.Signing,
            signature,
            order=find(models.Order.objects.all(), "order_id", order_id),
            document_number=document_number,
            meaning=meaning,
            name=name,
            method=method,
            documents=[{"document_id": number, "sha256": sha256} for number, sha256 in documents],
        )


def note_failure(name: str, address: str, at: datetime) -> None:
    """A log-in that failed; those too old to count go."""
    with one_transaction():
        models.LoginAttempt.objects.filter(at__lt=at - access_queries.THROTTLE).delete()
        models.LoginAttempt.objects.create(name=name[:150], address=address[:60], at=at)


def forget_failures(name: str, address: str) -> None:
    """A log-in that succeeded clears what failed of that name from that address."""
    with one_transaction():
        models.LoginAttempt.objects.filter(name=name, address=address).delete()


def keep_form(mark: str, at: datetime) -> bool:
    """Keep the mark of a form whose deed is not in the records; False where it is kept already."""
    with one_transaction():
        _row, is_new = models.SentForm.objects.get_or_create(mark=mark, defaults={"at": at})
        return is_new


def note_place_of_form(mark: str, place: str) -> None:
    """Where a form led, for whoever sends it again."""
    with one_transaction():
        models.SentForm.objects.filter(mark=mark).update(place=place)
