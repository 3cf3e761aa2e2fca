"""Use cases: accounts, roles, log-ins, tokens. Whose account it is, is not asked on this machine's command line."""

from __future__ import annotations

import hashlib
import ipaddress
import secrets
from collections.abc import Sequence
from datetime import datetime, timedelta

from lapwright.app.people import add_person
from lapwright.errors import BadInput, Conflict, Fault
from lapwright.model.access import RIGHTS, ROLES, SCOPE_RIGHTS, Account, Right, Role, Token
from lapwright.model.readings import Signature
from lapwright.settings import Settings

TOKEN_MARK = "lw_"  # noqa: S105  how a token begins, so that it is told from a password; not one itself
MOST_DAYS = 366
MOST_OF_NAME_HERE, MOST_OF_NAME, MOST_FROM_HERE = 5, 50, 50  # failed log-ins in 15 min; common practice, no source


def are_demanded(settings: Settings) -> bool:
    """Whether pages and API ask for an account: always when told so, else as soon as others can reach them."""
    return settings.accounts == "always" or not is_loopback(settings.host)


def is_loopback(host: str) -> bool:
    """Whether an address is this machine alone."""
    try:
        return host == "localhost" or ipaddress.ip_address(host.split("%", maxsplit=1)[0]).is_loopback
    except ValueError:
        return False


def open_account(name: str, full_name: str, role: Role, *, by: str, reason: str, at: datetime) -> Account:
    """A person with a role; one already recorded gets the role. No password is set."""
    from lapwright.records import access_queries, writer

    if role not in ROLES:
        raise BadInput([Fault(sentence=f"Found role {role!r}, expected one of {', '.join(ROLES)}.", field="role")])
    with writer.transaction():
        was_in_charge = has_an_admin()
        if name not in {one.name for one in access_queries.accounts()}:
            add_person(name, full_name, by=by, reason=reason, at=at)
        writer.grant_role(name, role, Signature(by=by, at=at, reason=reason))
        if was_in_charge and not has_an_admin():
            raise Conflict("That would leave nobody who may administer. Make somebody else admin first.")
        return access_queries.account(name)


def change_role(name: str, role: Role, *, by: str, reason: str, at: datetime) -> Account:
    """Another role for somebody recorded; it holds at once. Raises `NotFound`, and `Conflict` for the last admin."""
    from lapwright.records import access_queries

    access_queries.account(name)
    return open_account(name, "", role, by=by, reason=reason, at=at)


def check_password(password: str, name: str) -> None:
    """Raises `BadInput` with all that is wrong with a password."""
    from lapwright.records.passwords import faults_of

    faults = [Fault(sentence=sentence, field="password") for sentence in faults_of(password, name)]
    if faults:
        raise BadInput(faults, subject="The password")


def set_password(name: str, password: str, *, by: str, reason: str, at: datetime) -> None:
    """A password for a person, kept as a salted scrypt hash. Raises `NotFound`, `BadInput`."""
    from lapwright.records import access_queries, writer

    access_queries.account(name)
    check_password(password, name)
    writer.set_password(name, password, Signature(by=by, at=at, reason=reason))


def list_accounts() -> tuple[Account, ...]:
    """Everybody with the role that holds."""
    from lapwright.records import access_queries

    return access_queries.accounts()


def rights_of(name: str) -> frozenset[Right]:
    """What a person may do."""
    from lapwright.records import access_queries

    return access_queries.rights_of(name)


def log_in(name: str, password: str, *, address: str, at: datetime) -> bool:
    """Whether the password opens the account. After too many failures nothing is looked at any more for a while.

    Raises `Conflict` then, with how long. A person without a role is refused like a wrong password.
    """
    from lapwright.records import access_queries, writer

    here, anywhere, from_here = access_queries.failures(name, address, since=at - access_queries.THROTTLE)
    if here >= MOST_OF_NAME_HERE or anywhere >= MOST_OF_NAME or from_here >= MOST_FROM_HERE:
        minutes = int(access_queries.THROTTLE.total_seconds() / 60)
        raise Conflict(f"Too many log-ins failed. Wait {minutes} minutes, or ask an admin for a new password.")
    if access_queries.password_fits(name, password) and access_queries.rights_of(name):
        writer.forget_failures(name, address)
        return True
    writer.note_failure(name, address, at)
    return False


def password_fits(name: str, password: str, *, address: str, at: datetime) -> bool:
    """Whether the password, asked for again before a signature, is right; throttled as a log-in is."""
    return log_in(name, password, address=address, at=at)


def make_token(
    person: str, name: str, scopes: Sequence[str], days: int, *, by: str, reason: str, at: datetime
) -> tuple[str, Token]:
    """A token for a program: its text, shown this once and kept nowhere, and what is recorded of it."""
    from lapwright.records import writer

    faults = []
    if not name.strip():
        faults.append(Fault(sentence="Say what the token is for.", field="name"))
    if not scopes or set(scopes) - set(SCOPE_RIGHTS):
        told = ", ".join(SCOPE_RIGHTS)
        faults.append(Fault(sentence=f"Found scopes {', '.join(scopes) or 'none'}, expected {told}.", field="scope"))
    if not 1 <= days <= MOST_DAYS:
        faults.append(Fault(sentence=f"Found {days} days, expected 1 to {MOST_DAYS}.", field="days"))
    if faults:
        raise BadInput(faults, subject="The token")
    known = [scope for scope in SCOPE_RIGHTS if scope in scopes]
    text = TOKEN_MARK + secrets.token_urlsafe(32)
    signature = Signature(by=by, at=at, reason=reason)
    return text, writer.add_token(person, name.strip(), _sha256(text), known, at + timedelta(days=days), signature)


def revoke_token(token_id: int, *, by: str, reason: str, at: datetime) -> None:
    """Withdraw a token. Raises `NotFound`, `Conflict` when it was withdrawn before."""
    from lapwright.records import writer

    writer.revoke_token(token_id, Signature(by=by, at=at, reason=reason))


def list_tokens(person: str | None = None) -> tuple[Token, ...]:
    """Tokens of a person, or all."""
    from lapwright.records import access_queries

    return access_queries.tokens(person)


def holder_of(token: str, *, at: datetime) -> tuple[str, frozenset[Right]] | None:
    """Whose a token is, and what may be done with it now."""
    from lapwright.records import access_queries

    return access_queries.holder_of(_sha256(token), at=at) if token.startswith(TOKEN_MARK) else None


def has_an_admin() -> bool:
    """Whether somebody may administer and can log in."""
    return any(one.role == "admin" and one.has_password for one in list_accounts())


ALL_RIGHTS: frozenset[Right] = frozenset(RIGHTS)


# ----------------------------------------------------------------------------------------------------------------------


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
