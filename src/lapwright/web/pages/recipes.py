"""Recipes: what is set, who approved it, what it produced."""

from __future__ import annotations

import math
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from lapwright.app import recipes as use
from lapwright.errors import TABLE, BadInput, Fault, LapwrightError
from lapwright.model.recipe import Recipe, RunSettings, RunsFollowed
from lapwright.units import STANDARD_GRAVITY
from lapwright.web.sentences import decimal
from lapwright.web.surroundings import shown, signed
from lapwright.web.typed_fields import typed_number
from lapwright.web.words import tool_name

_PAGE = ["GET", "HEAD", "POST"]
_TOOLS = ("plates", "abrasives")
_FIELDS = ("load_kg", "plate_speed_rpm")


@require_http_methods(_PAGE)
def recipes(request: HttpRequest) -> HttpResponse:
    """All recipes; a POST writes the first version of a new one."""
    if request.method == "POST":
        name = request.POST.get("recipe", "").strip()
        refused = _write(request, name)
        if not refused:
            return redirect("recipe", name)
        return _list(request, refused)
    return _list(request)


@require_http_methods(_PAGE)
def recipe(request: HttpRequest, recipe_id: str) -> HttpResponse:
    """One recipe with its versions, what each changed and what it produced; a POST writes the next version."""
    held = use.show_recipe(recipe_id)
    refused: tuple[str, ...] = ()
    if request.method == "POST":
        refused = _write(request, recipe_id)
        if not refused:
            return redirect("recipe", recipe_id)
    return shown(
        request, "recipe.html", here="recipes", status=422 if refused else 200, recipe=held, versions=_versions(held),
        faults=refused, kept=_kept(request, held), materials=use.materials(), **_offered(held),
    )  # fmt: skip


@require_POST
def approve(request: HttpRequest, recipe_id: str) -> HttpResponse:
    """Approve a version, lock the recipe, or open it again."""
    deed, why = request.POST.get("deed", ""), request.POST.get("reason", "").strip()
    if deed == "approve":
        told = request.POST.get("number", "")
        use.approve(recipe_id, int(told) if told.isdecimal() else 0, **signed(request, why or "approved"))
    else:
        if not why:
            raise BadInput([Fault(sentence=_("Say why."), field="reason")])
        use.set_lock(recipe_id, locked=deed == "lock", **signed(request, why))
    messages.success(request, _("Recorded."))
    return redirect("recipe", recipe_id)


# ----------------------------------------------------------------------------------------------------------------------


def _list(request: HttpRequest, refused: tuple[str, ...] = ()) -> HttpResponse:
    return shown(
        request, "recipes.html", here="recipes", status=422 if refused else 200, recipes=use.list_recipes(),
        faults=refused, kept=_kept(request, None), materials=use.materials(), **_offered(None),
    )  # fmt: skip


def _offered(held: Recipe | None) -> dict[str, Any]:
    """Plates and abrasives to choose from, by their names: what is on a station first, then the rest of the library."""
    known = use.tools(None if held is None else held.recipe_id)
    return {name: [(one, tool_name(one, None)) for one in found] for name, found in zip(_TOOLS, known, strict=True)}


def _write(request: HttpRequest, name: str) -> tuple[str, ...]:
    """Write a version from the form; what is wrong with it, all at once."""
    faults, values = [], {}
    for field in _FIELDS:
        text = request.POST.get(field, "").strip()
        try:
            values[field] = typed_number(text) if text else None
        except LapwrightError as error:
            faults.append(error.sentence)
    if not request.POST.get("material"):
        faults.insert(0, _("Choose the material."))
    if faults:
        return tuple(faults)
    load_kg, speed = values["load_kg"], values["plate_speed_rpm"]
    settings = RunSettings(
        material=request.POST.get("material", ""),
        plate=request.POST.get("plate", "").strip() or None,
        abrasive=request.POST.get("abrasive", "").strip() or None,
        load=None if load_kg is None else load_kg * STANDARD_GRAVITY,
        plate_speed=None if speed is None else speed * math.pi / 30.0,
    )
    try:
        use.write_version(name, settings, **signed(request, request.POST.get("reason", "").strip() or "written"))
    except LapwrightError as error:
        if TABLE[error.code][1] >= 500:
            raise
        return tuple(fault.sentence for fault in error.faults) or (error.sentence,)
    return ()


def _versions(held: Recipe) -> list[dict[str, object]]:
    """The newest first, each with what it changed against the one before."""
    before, runs = (None, *held.versions), use.runs_followed(held.recipe_id)
    rows = [
        {
            "one": one,
            "changed": () if old is None else use.differences(old.settings, one.settings),
            "runs": runs[one.number],
            "rate": _rate(runs[one.number]),
        }
        for old, one in zip(before, held.versions, strict=False)
    ]
    return rows[::-1]


def _rate(runs: RunsFollowed) -> str:
    """Mean rate of the latest runs that followed a version; "" while none has ended."""
    ended = [(one.removal, one.time) for one in runs.latest if one.removal is not None and one.time]
    if not ended:
        return ""
    rate = sum(removal for removal, _ in ended) / sum(time for _, time in ended)
    return decimal(f"{rate * 60e6:.3g}\u00a0µm/min")


def _kept(request: HttpRequest, held: Recipe | None) -> object:
    """What the form shows: what was sent, else the latest version, else what the last run of ``?station=`` had set."""
    if request.method == "POST":
        return request.POST
    station = request.GET.get("station")
    if held is not None:
        latest = held.versions[-1].settings if held.versions else None
    else:
        latest = use.last_settings(station) if station else None
    if latest is None:
        return request.POST
    return {
        "material": latest.material,
        "plate": latest.plate or "",
        "abrasive": latest.abrasive or "",
        "load_kg": "" if latest.load is None else decimal(f"{latest.load / STANDARD_GRAVITY:.4g}"),
        "plate_speed_rpm": "" if latest.plate_speed is None else decimal(f"{latest.plate_speed * 30.0 / math.pi:.4g}"),
    }
