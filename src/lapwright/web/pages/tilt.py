"""Tilt: which screw, which way, how far; what was turned; and what the screws really move."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from lapwright.app import bench_advice, jig_moves, runs, shelf
from lapwright.errors import TABLE, BadInput, Conflict, Fault, LapwrightError
from lapwright.model.jig_moves import RecordedMove
from lapwright.model.shelf import RecordedJig
from lapwright.web.bench_views import screw_turns, wedge_course
from lapwright.web.figures import outline_of
from lapwright.web.sentences import said as in_words
from lapwright.web.stages import screw_wheel
from lapwright.web.surroundings import now, person, shown, signed
from lapwright.web.tilt_views import learned_view, move_lines, screw_boxes
from lapwright.web.typed_fields import typed_number

_SHOWN = 12


@require_http_methods(["GET", "HEAD", "POST"])
def tilt(request: HttpRequest, order_id: str, wafer_id: str) -> HttpResponse:
    """What to turn at the jig; a POST records a move, which way its threads go, or that learned values are taken."""
    _order, story = bench_advice.wafer_story(order_id, wafer_id)
    jigs = shelf.list_jigs()
    wanted = request.POST.get("jig") or request.GET.get("jig", "")
    chosen = next((one for one in jigs if one.jig.jig_id == wanted), jigs[0] if jigs else None)
    refused = ""
    if request.method == "POST" and chosen is not None:
        refused = _do(request, chosen, wafer_id)
        if not refused:
            return redirect(f"{reverse('tilt', args=(order_id, wafer_id))}?jig={chosen.jig.jig_id}")
    stage, why = None, ""
    try:
        stage = runs.next_stage(wafer_id, jig_id=None if chosen is None else chosen.jig.jig_id)
    except LapwrightError as error:
        why = error.sentence
    jig = None if chosen is None else chosen.jig
    moves = () if jig is None else jig_moves.list_moves(jig.jig_id, newest=_SHOWN)
    turns = screw_turns(stage, jig)
    return shown(
        request, "tilt.html", here="tilt", order_id=order_id, story=story, stage=stage, why=why,
        jigs=[one.jig for one in jigs], jig=jig, version=None if chosen is None else chosen.version,
        turns=turns, nothing_left=bool(turns) and all(one.stays for one in turns), wheel=screw_wheel(stage, jig),
        course=wedge_course(story, outline_of(story)), moves=move_lines(moves[::-1][:_SHOWN]), last=_last(moves),
        boxes=screw_boxes(turns, jig, request.POST if refused else None),
        learned=None if jig is None else learned_view(jig_moves.learned_jig(jig.jig_id)), refused=refused,
        status=422 if refused else 200,
    )  # fmt: skip


# ----------------------------------------------------------------------------------------------------------------------


def _last(moves: tuple[RecordedMove, ...]) -> int:
    return max((one.move_id for one in moves), default=0)


def _do(request: HttpRequest, chosen: RecordedJig, wafer_id: str) -> str:
    """Record what was sent; the sentence that says why it was not, "" when it was."""
    deed = request.POST.get("deed", "direction")
    try:
        if deed == "turned":
            _turned(request, chosen, wafer_id)
        elif deed == "correct":
            _corrected(request, chosen)
        elif deed == "take":
            jig_moves.take_learned(
                chosen.jig.jig_id, by=person(request), at=now(), version=int(request.POST.get("version", ""))
            )
            messages.success(request, _("The learned values are taken for the corrections to come."))
        else:
            _direction(request, chosen)
    except ValueError:
        said = _("The form was incomplete; nothing was recorded. Try again.")
    except LapwrightError as error:
        if TABLE[error.code][1] >= 500:
            raise
        said = " ".join(fault.sentence for fault in error.faults) or error.sentence
    else:
        return ""
    if deed != "direction":
        return said
    messages.error(request, said, "bad")  # nothing was typed that would be lost
    return ""


def _turned(request: HttpRequest, chosen: RecordedJig, wafer_id: str) -> None:
    jig_id = chosen.jig.jig_id
    if int(request.POST.get("last", "")) != _last(jig_moves.list_moves(jig_id, newest=1)):
        raise Conflict(
            _("The jig was turned by somebody since this page was made. Nothing was recorded; look at what is left.")
        )
    divisions = _divisions(request, len(chosen.jig.adjuster_azimuths))
    jig_moves.record_move(jig_id, divisions, wafer_id=wafer_id, **signed(request, _("turned on the Tilt page")))
    messages.success(request, _("Recorded. The zero no longer holds: take it anew before the run."))


def _corrected(request: HttpRequest, chosen: RecordedJig) -> None:
    """A move noted wrong: as it really was, or that it was not made."""
    jig_id, moved = chosen.jig.jig_id, int(request.POST.get("move", ""))
    old = next((one for one in jig_moves.list_moves(jig_id, newest=4 * _SHOWN) if one.move_id == moved), None)
    if old is None:
        raise Conflict(_("That move is not there. Look at the moves of the jig again."))
    jig_moves.record_move(
        jig_id, [0.0] * len(old.move.turns), wafer_id=old.move.wafer_id, corrects=moved,
        **signed(request, _("not made")),
    )  # fmt: skip
    messages.success(request, _("Recorded: that move was not made."))


def _divisions(request: HttpRequest, screws: int) -> list[float]:
    """Divisions of every screw, nearer the plate positive; all faults at once."""
    found, faults = [], []
    for screw in range(1, screws + 1):
        text, effect = request.POST.get(f"far_{screw}", "").strip(), request.POST.get(f"effect_{screw}", "")
        try:
            far = typed_number(text) if text else 0.0
        except LapwrightError as error:
            faults.append(Fault(sentence=f"{_('Screw')} {screw}: {in_words(error.sentence)}", field=f"far_{screw}"))
            continue
        if far < 0.0 or (far > 0.0 and effect not in ("near", "away")):
            sentence = _("Screw %(n)d: give the divisions without a sign, and say where the wafer went.") % {"n": screw}
            faults.append(Fault(sentence=sentence, field=f"far_{screw}"))
            continue
        found.append(-far if effect == "away" else far)
    if faults:
        raise BadInput(faults, subject="The move")
    return found


def _direction(request: HttpRequest, chosen: RecordedJig) -> None:
    said = request.POST.get("clockwise", "")
    if said not in ("near", "away"):
        messages.error(request, _("Say whether the wafer came nearer the plate or went away from it."), "bad")
        return
    bench_advice.record_screw_direction(
        chosen.jig.jig_id, clockwise_brings_near=said == "near", by=person(request), at=now(),
        version=int(request.POST.get("version", "")),
    )  # fmt: skip
    messages.success(request, _("Recorded with jig %(jig)s.") % {"jig": chosen.jig.jig_id})
