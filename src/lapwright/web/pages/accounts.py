"""Logging in and out, one's own account, and everybody's for whoever may administer."""

from __future__ import annotations

from typing import Any

from django.contrib import auth, messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from lapwright.app import accounts, wiring
from lapwright.errors import TABLE, Conflict, LapwrightError, NotFound
from lapwright.model.access import ROLES, SCOPE_RIGHTS, SignMethod
from lapwright.web import kept_form
from lapwright.web.surroundings import now, person, shown, signed

_PAGE = ["GET", "HEAD", "POST"]


@sensitive_post_parameters("password")
@require_http_methods(_PAGE)
def login(request: HttpRequest) -> HttpResponse:
    """Ask for name and password; without accounts there is nothing to ask for."""
    if not accounts.are_demanded(wiring.current_settings()):
        return redirect("hands")
    wanted, kept = request.POST.get("next") or request.GET.get("next", ""), request.POST.get("kept", "")
    if request.method != "POST":
        return shown(request, "login.html", here="login", next=wanted)
    name, password = request.POST.get("name", "").strip(), request.POST.get("password", "")
    try:
        known = accounts.log_in(name, password, address=request.META.get("REMOTE_ADDR", ""), at=now())
        refusal = _("Name and password do not fit, or the account has no role. Nothing was recorded.")
    except Conflict as error:
        known, refusal = False, error.sentence
    if not known:
        return shown(
            request, "login.html", here="login", next=wanted, name=name, refusal=refusal, kept=kept, status=403
        )
    user = auth.get_user_model().objects.get(username=name)
    auth.login(request, user, backend="django.contrib.auth.backends.ModelBackend")
    is_ours, fields = url_has_allowed_host_and_scheme(wanted, {request.get_host()}), kept_form.fields_of(kept)
    if is_ours and fields:
        content: dict[str, Any] = {"address": wanted, "fields": fields, "typed": kept_form.typed(fields), "name": name}
        return shown(request, "send_again.html", here="login", **content)
    return redirect(wanted if is_ours else "hands")


@require_POST
def logout(request: HttpRequest) -> HttpResponse:
    """End the session."""
    auth.logout(request)
    return redirect("login")


@sensitive_post_parameters("password", "new_password")
@require_http_methods(_PAGE)
def account(request: HttpRequest) -> HttpResponse:
    """One's own password and tokens."""
    if getattr(request, "rights", None) is None:
        return redirect("who")
    token, status = "", 200
    if request.method == "POST":
        try:
            token = _do_to_own(request)
        except LapwrightError as error:
            status = _tell(request, error)
    return shown(
        request, "account.html", here="account", status=status, token=token, scopes=tuple(SCOPE_RIGHTS),
        tokens=accounts.list_tokens(person(request)), now=now(),
    )  # fmt: skip


@sensitive_post_parameters("password")
@require_http_methods(_PAGE)
def people(request: HttpRequest) -> HttpResponse:
    """Everybody's role; new people, new passwords, tokens withdrawn."""
    status = 200
    if request.method == "POST":
        try:
            _do_to_people(request)
        except LapwrightError as error:
            status = _tell(request, error)
        else:
            return redirect("people")
    typed = request.POST if request.POST.get("deed") == "add" else None
    return shown(
        request, "people.html", here="people", status=status, typed=typed, accounts=accounts.list_accounts(),
        roles=ROLES, tokens=accounts.list_tokens(), now=now(),
    )  # fmt: skip


def confirmed(request: HttpRequest) -> SignMethod | None:
    """How the signer is known: by the password asked for again; without accounts by being here. None was refused."""
    if getattr(request, "rights", None) is None:
        return "local"
    address = request.META.get("REMOTE_ADDR", "")
    try:
        if accounts.password_fits(person(request), request.POST.get("password", ""), address=address, at=now()):
            return "password"
        messages.error(request, _("The password does not fit. Nothing was signed."))
    except Conflict as error:
        messages.error(request, error.sentence)
    return None


# ----------------------------------------------------------------------------------------------------------------------


def _do_to_own(request: HttpRequest) -> str:
    """One deed to the asker's own account; the text of a new token."""
    deed, me = request.POST.get("deed", ""), person(request)
    if deed == "token":
        scopes = tuple(request.POST.getlist("scope"))
        days = request.POST.get("days", "")
        text, _token = accounts.make_token(
            me, request.POST.get("token_name", ""), scopes, int(days) if days.isdecimal() else 0,
            **signed(request, "made on the page of the account"),
        )  # fmt: skip
        return text
    if deed == "revoke":
        chosen = _token_id(request)
        if chosen not in {one.token_id for one in accounts.list_tokens(me)}:
            raise Conflict(_("That token is not yours."))
        accounts.revoke_token(chosen, **signed(request, "withdrawn by its owner"))
        messages.success(request, _("The token is withdrawn."))
        return ""
    if confirmed(request) is not None:
        accounts.set_password(me, request.POST.get("new_password", ""), **signed(request, "password changed"))
        auth.update_session_auth_hash(request, auth.get_user_model().objects.get(username=me))
        messages.success(request, _("The password is changed."))
    return ""


def _do_to_people(request: HttpRequest) -> None:
    deed, name = request.POST.get("deed", ""), request.POST.get("name", "").strip()
    role = request.POST.get("role", "")
    if deed == "add":
        accounts.check_password(request.POST.get("password", ""), name)
    if deed in ("add", "role"):
        full_name = request.POST.get("full_name", "").strip()
        accounts.open_account(name, full_name, role, **signed(request, "given on the page of people"))  # type: ignore[arg-type]
    if deed in ("add", "password"):
        accounts.set_password(name, request.POST.get("password", ""), **signed(request, "password set by an admin"))
    if deed == "revoke":
        accounts.revoke_token(_token_id(request), **signed(request, "withdrawn by an admin"))
    messages.success(request, _("Recorded."))


def _token_id(request: HttpRequest) -> int:
    told = request.POST.get("token_id", "")
    if not (told.isascii() and told.isdecimal() and len(told) < 19):
        raise NotFound(_("There is no such token. Reload the page and look which there are."))
    return int(told)


def _tell(request: HttpRequest, error: LapwrightError) -> int:
    """Say what is wrong on the page; gives the status of the answer."""
    for sentence in [fault.sentence for fault in error.faults] or [error.sentence]:
        messages.error(request, sentence)
    return TABLE[error.code][1]
