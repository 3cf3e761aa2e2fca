"""Intake, for a request that is not an order yet: can we, by when, and what must be asked first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.forms.boundfield import BoundField
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from lapwright.reports.drawing.cross_section import RequestedPiece, SectionWords, cross_section
from lapwright.web.forms import OrderForm
from lapwright.web.intake_questions import letter, open_questions
from lapwright.web.lettering import lettering
from lapwright.web.pages.orders import copied_fields, looked_at
from lapwright.web.surroundings import shown

#: Letter in the drawing -> field. The others follow in groups of their own.
LETTERS = {
    "a": "start_thickness", "b": "target_thickness", "c": "tolerance", "d": "ttv_limit", "e": "diameter",
    "f": "edge_exclusion",
}  # fmt: skip
HELD = ("hold", "material", "quantity")
FURTHER = (
    ("piece", ("start_ttv", "start_damage", "shape", "width", "height", "mark", "flat_length", "orientation")),
    ("limits", ("wedge_limit", "flatness_limit", "bow_limit", "warp_limit", "roughness_ra_limit",
                "roughness_sq_limit")),
    ("judged", ("rule", "risk", "guard_factor")),
)  # fmt: skip
ORDER = ("order_id", "customer", "due", "spares", "value_per_wafer", "wafer_names", "notes")


#: What a form begins with.
BEGUN = {"shape": "round", "mark": "none", "rule": "guarded", "risk": "2", "spares": "0"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Lettered:
    """A field with its letter in the drawing; empty for one that is not drawn."""

    letter: str
    field: BoundField


@require_http_methods(["GET", "HEAD", "POST"])
def intake(request: HttpRequest) -> HttpResponse:
    """The page. Sent to itself, as without script, it looks at what was typed; nothing is recorded by that."""
    typed = request.POST.dict() if request.method == "POST" else {**BEGUN, **copied_fields(request)}
    content = _looked(typed)
    form: OrderForm = content["form"]
    form.data = typed  # what an outlook does not need stays as it was typed
    return shown(
        request,
        "intake.html",
        here="intake",
        drawn=[Lettered(letter=letter, field=form[name]) for letter, name in LETTERS.items()],
        held=[Lettered(letter="", field=form[name]) for name in HELD],
        further=[(title, [form[name] for name in names]) for title, names in _further()],
        ours=[form[name] for name in ORDER],
        **content,
    )


@require_POST
def look(request: HttpRequest) -> HttpResponse:
    """The parts of the page that answer what is typed: the drawing, the outlook, the questions."""
    return render(request, "lapwright/parts/intake_answer.html", _looked(request.POST.dict()))


# ----------------------------------------------------------------------------------------------------------------------


def _looked(typed: Mapping[str, Any]) -> dict[str, Any]:
    content = looked_at(typed)
    errors = content["form"].errors
    for name in [name for name in errors if not typed.get(name)]:
        del errors[name]  # half a request is asked about, not scolded
    asked = open_questions(content["form"], content["outlook"])
    return {**content, "asked": asked, "mail": letter(asked), "svg": _drawn(content["form"])}


def _further() -> list[tuple[str, tuple[str, ...]]]:
    titles = {"piece": _("More about the piece"), "limits": _("More limits"), "judged": _("Judged how")}
    return [(titles[name], fields) for name, fields in FURTHER]


def _drawn(form: OrderForm) -> str:
    """The drawing of what was understood; what was not is asked for."""
    data = form.cleaned_data
    piece = RequestedPiece(
        start=data.get("start_thickness"),
        start_ttv=data.get("start_ttv"),
        damage=data.get("start_damage"),
        target=data.get("target_thickness"),
        tolerance=data.get("tolerance"),
        ttv=data.get("ttv_limit"),
        width=data.get("diameter") or data.get("width"),
        exclusion=data.get("edge_exclusion"),
        hold=data.get("hold") or "",
    )
    return cross_section(
        piece,
        title=_("The request as a cross-section"),
        words=SectionWords(
            as_it_comes=_("as it comes"),
            as_wanted=_("as wanted"),
            enlarged=_("the wanted face, enlarged"),
            clamped=_("measured clamped"),
            free=_("measured free"),
            not_known=_("free or clamped?"),
        ),
        lettering=lettering(),
    )
