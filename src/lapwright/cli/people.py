"""`lapwright people`: accounts, roles, passwords and tokens, on the machine of the records."""

from __future__ import annotations

import getpass
import sys
from collections.abc import Mapping
from typing import Annotated, Any, Literal

import typer

from lapwright.cli.answer import JsonOption, give
from lapwright.cli.opened import ByOption, DataOption, ReasonOption, open_records, signed
from lapwright.model.access import Role, Token

app = typer.Typer(
    help="Accounts, roles, passwords and tokens, on the machine of the records.",
    no_args_is_help=True,
    add_completion=False,
)

NO_ADMIN = (
    "Nobody may administer yet, so pages that others can reach are not served."
    " Make somebody admin: lapwright people add NAME --role admin"
)

NameArgument = Annotated[str, typer.Argument(metavar="NAME", help="Short name.")]
RoleOption = Annotated[
    Literal["none", "viewer", "operator", "engineer", "admin"], typer.Option("--role", help="What they may do.")
]
StdinOption = Annotated[bool, typer.Option("--password-stdin", help="Read the password from standard input.")]


@app.command("list")
def people_list(*, data: DataOption = None, as_json: JsonOption = False) -> None:
    """List everybody with role and password, and the tokens."""
    from lapwright.app import accounts

    open_records(data)
    people = [
        {"name": one.name, "full_name": one.full_name, "role": one.role, "has_password": one.has_password}
        for one in accounts.list_accounts()
    ]
    give({"people": people, "tokens": [_token(one) for one in accounts.list_tokens()]}, as_json=as_json, show=_show)


@app.command("add")
def people_add(
    name: NameArgument,
    *,
    role: RoleOption,
    full_name: Annotated[str, typer.Option(help="Name as certificates print it.")] = "",
    password_stdin: StdinOption = False,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "account opened",
    as_json: JsonOption = False,
) -> None:
    """Open an account with a role; asks for the password."""
    from lapwright.app import accounts

    settings = open_records(data)
    password = _password(from_stdin=password_stdin)
    why = signed(settings, by, reason)
    accounts.check_password(password, name)
    accounts.open_account(name, full_name, role, **why)
    accounts.set_password(name, password, **why)
    warnings = [] if accounts.has_an_admin() else [{"code": "people.no_admin", "sentence": NO_ADMIN}]
    give({"name": name, "role": role}, as_json=as_json, show=_show_role, warnings=warnings)


@app.command("role")
def people_role(
    name: NameArgument,
    role: Annotated[
        Literal["none", "viewer", "operator", "engineer", "admin"], typer.Argument(help="What they may do.")
    ],
    *,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "role given",
    as_json: JsonOption = False,
) -> None:
    """Give a person another role; it holds at once."""
    from lapwright.app import accounts

    accounts.change_role(name, role, **signed(open_records(data), by, reason))
    give({"name": name, "role": role}, as_json=as_json, show=_show_role)


@app.command("password")
def people_password(
    name: NameArgument,
    *,
    password_stdin: StdinOption = False,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "password set",
    as_json: JsonOption = False,
) -> None:
    """Set a new password; every session of the person ends."""
    from lapwright.app import accounts

    settings = open_records(data)
    accounts.set_password(name, _password(from_stdin=password_stdin), **signed(settings, by, reason))
    give({"name": name}, as_json=as_json, show=lambda result: typer.echo(f"{result['name']} has a new password."))


@app.command("token")
def people_token(
    name: NameArgument,
    *,
    purpose: Annotated[str, typer.Option("--for", metavar="TEXT", help="What the token is for.")],
    scope: Annotated[list[str], typer.Option(help="What it may do at most; several times.")],
    days: Annotated[int, typer.Option(min=1, max=366, help="Days it holds.")] = 90,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "token made",
    as_json: JsonOption = False,
) -> None:
    """Make a token by which a program acts for a person; it is shown this once."""
    from lapwright.app import accounts

    scopes = tuple(dict.fromkeys(scope))
    text, token = accounts.make_token(name, purpose, scopes, days, **signed(open_records(data), by, reason))
    give({"text": text, **_token(token)}, as_json=as_json, show=lambda result: typer.echo(result["text"]))


@app.command("revoke")
def people_revoke(
    token: Annotated[int, typer.Argument(metavar="TOKEN", help="Number of the token, as listed.")],
    *,
    data: DataOption = None,
    by: ByOption = None,
    reason: ReasonOption = "token withdrawn",
    as_json: JsonOption = False,
) -> None:
    """Withdraw a token; it does nothing from now on."""
    from lapwright.app import accounts

    accounts.revoke_token(token, **signed(open_records(data), by, reason))
    give({"token": token}, as_json=as_json, show=lambda result: typer.echo(f"Token {result['token']} is withdrawn."))


# ----------------------------------------------------------------------------------------------------------------------


def _password(*, from_stdin: bool) -> str:
    if from_stdin:
        return sys.stdin.readline().rstrip("\n")
    return getpass.getpass("Password: ")


def _token(one: Token) -> dict[str, Any]:
    return {
        "token": one.token_id,
        "person": one.person,
        "for": one.name,
        "scopes": list(one.scopes),
        "expires": one.expires.isoformat(),
        "revoked": None if one.revoked is None else one.revoked.isoformat(),
    }


def _show_role(result: Mapping[str, Any]) -> None:
    role: Role = result["role"]
    typer.echo(f"{result['name']} is {role}.")


def _show(result: Mapping[str, Any]) -> None:
    from lapwright.cli.tables import print_line

    for one in result["people"]:
        print_line(f"{one['name']}: {one['role']}{'' if one['has_password'] else ', no password'}")
    for one in result["tokens"]:
        print_line(f"token {one['token']} of {one['person']}, for {one['for']}: until {one['expires']}")
