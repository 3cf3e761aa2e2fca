"""Reading accounts, roles, tokens and signatures."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from lapwright.model.access import ROLE_RIGHTS, SCOPE_RIGHTS, Account, Right, Role, Signed, Token
from lapwright.records import models
from lapwright.records.faults import translated
from lapwright.records.queries import find


def accounts() -> tuple[Account, ...]:
    """Everybody, by name, with the role that holds."""
    with translated():
        return tuple(_account(row) for row in models.Person.objects.order_by("username"))


def account(name: str) -> Account:
    """One person. Raises `NotFound`."""
    with translated():
        return _account(find(models.Person.objects.all(), "username", name))


def rights_of(name: str) -> frozenset[Right]:
    """What a person may do; nothing for whoever has no role or is not known."""
    with translated():
        return ROLE_RIGHTS[_role(name)]


def password_fits(name: str, password: str) -> bool:
    """Whether the password is that of the person; takes as long when there is no such person."""
    from django.contrib.auth.hashers import check_password, make_password

    with translated():
        row = models.Person.objects.filter(username=name, is_active=True).first()
        if row is None:
            make_password(password)
            return False
        return check_password(password, row.password)


def failures(name: str, address: str, *, since: datetime) -> tuple[int, int, int]:
    """Failed log-ins: of the name from the address, of the name from anywhere, from the address for any name."""
    with translated():
        recent = models.LoginAttempt.objects.filter(at__gte=since)
        return (
            recent.filter(name=name, address=address).count(),
            recent.filter(name=name).count(),
            recent.filter(address=address).count(),
        )


def place_of_form(mark: str) -> str | None:
    """Where a form led that was sent; "" where that is not known, None for one that nothing was recorded for."""
    with translated():
        return models.SentForm.objects.filter(mark=mark).values_list("place", flat=True).first()


def tokens(name: str | None = None) -> tuple[Token, ...]:
    """Tokens of a person, or of everybody."""
    with translated():
        found = models.ApiToken.objects.select_related("person").order_by("pk")
        return tuple(_token(row) for row in (found if name is None else found.filter(person__username=name)))


def holder_of(sha256: str, *, at: datetime) -> tuple[str, frozenset[Right]] | None:
    """Whose a token is and what it may do now; None for one unknown, withdrawn or run out."""
    with translated():
        row = models.ApiToken.objects.select_related("person").filter(sha256=sha256).first()
        if row is None or row.revoked_at is not None or row.expires_at <= at:
            return None
        bounds: frozenset[Right] = frozenset().union(*(SCOPE_RIGHTS[scope] for scope in row.scopes))
        return row.person.username, ROLE_RIGHTS[_role(row.person.username)] & bounds


def signings(order_id: str) -> tuple[Signed, ...]:
    """The signatures under the certificates of an order."""
    with translated():
        found = models.Signing.objects.filter(order__order_id=order_id)
        return tuple(
            Signed(
                document_number=row.document_number, meaning=row.meaning, name=row.name, by=row.by, at=row.at,
                method=row.method, documents=tuple((one["document_id"], one["sha256"]) for one in row.documents),
            )
            for row in found
        )  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _role(name: str) -> Role:
    found = models.Grant.objects.filter(person__username=name, person__is_active=True)
    latest: Role | None = found.order_by("-pk").values_list("role", flat=True).first()
    return latest if latest in ROLE_RIGHTS else "none"


def _account(row: Any) -> Account:
    return Account(
        name=row.username,
        full_name=row.get_full_name(),
        role=_role(row.username),
        has_password=bool(row.password) and row.has_usable_password(),
    )


def _token(row: Any) -> Token:
    return Token(
        token_id=row.pk, person=row.person.username, name=row.name, scopes=tuple(row.scopes), expires=row.expires_at,
        revoked=row.revoked_at,
    )  # fmt: skip


THROTTLE = timedelta(minutes=15)  # how long a failed log-in counts; common practice, no source
