"""Who may do what: rights, the roles that bundle them, and the scopes of a program's token."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal, get_args

Right = Literal["see", "measure", "run", "plan", "approve", "administer"]
Role = Literal["none", "viewer", "operator", "engineer", "admin"]
Scope = Literal["read", "write"]
#: What a signature under a certificate says.
Meaning = Literal["issued", "checked", "released"]
#: How a signer was known: by the password asked for again, or as the person of this machine.
SignMethod = Literal["password", "local"]

RIGHTS: tuple[Right, ...] = get_args(Right)
ROLES: tuple[Role, ...] = get_args(Role)
MEANINGS: tuple[Meaning, ...] = get_args(Meaning)

#: What each role may do. Nobody may do what their role does not name.
ROLE_RIGHTS: dict[Role, frozenset[Right]] = {
    "none": frozenset(),
    "viewer": frozenset({"see"}),
    "operator": frozenset({"see", "measure", "run"}),
    "engineer": frozenset({"see", "measure", "run", "plan", "approve"}),
    "admin": frozenset(RIGHTS),
}
#: What a token may do at most, whatever the role of its person.
SCOPE_RIGHTS: dict[Scope, frozenset[Right]] = {
    "read": frozenset({"see"}),
    "write": frozenset({"see", "measure", "run", "plan"}),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """Somebody with an account: the role that holds, and whether a password is set."""

    name: str
    full_name: str
    role: Role
    has_password: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Token:
    """A token of a person: what it may do at most, until when, and when it was withdrawn."""

    token_id: int
    person: str
    name: str
    scopes: tuple[Scope, ...]
    expires: datetime
    revoked: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed:
    """A certificate signed: the full name at that time, what the signature means, and how the signer was known."""

    document_number: str
    meaning: Meaning
    name: str
    by: str
    at: datetime
    method: SignMethod
    documents: tuple[tuple[int, str], ...]
