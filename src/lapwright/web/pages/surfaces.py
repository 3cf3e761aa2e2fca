"""Fringes and Finish: look at the files of a face, change how they are read, keep the result with its wafer.

A file that was sent stays on the tray, so that a refusal or a changed setting asks for no second upload.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from lapwright.app import documents, orders, surface_readings, surface_records, surface_tray
from lapwright.app.profile_readings import read_profile
from lapwright.app.surface_readings import Files, read_fringes
from lapwright.errors import TABLE, BadInput, Fault, LapwrightError, NotFound
from lapwright.model.surface_record import FringeSettings, RecordedSurface, SurfaceRequest
from lapwright.web.drawn_faces import Drawn, drawn_fringes, drawn_profile
from lapwright.web.moments import when_said
from lapwright.web.surface_forms import FaceForm, FringeForm, ProfileForm
from lapwright.web.surface_views import (
    FringeView,
    PictureView,
    ProfileView,
    bare_picture,
    fringe_numbers,
    fringe_view,
    fringe_words,
    profile_view,
    short_numbers,
)
from lapwright.web.surroundings import now, shown, signed
from lapwright.web.words import MOMENTS


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """What came of looking at files: a view, or a refusal with the picture as it came; and what to answer with."""

    view: FringeView | ProfileView | None = None
    refused: str = ""
    picture: PictureView | None = None
    recorded: RecordedSurface | None = None
    status: int = 200


LISTED = 50  # faces below the form, the newest


@require_http_methods(["GET", "HEAD", "POST"])
def surfaces(request: HttpRequest) -> HttpResponse:
    """Fringes: how flat a face is."""
    form = FringeForm(request.POST or None, request.FILES or None, initial=_asked_wafer(request))
    return _page(request, form, "surfaces", _look_at_fringes)


@require_http_methods(["GET", "HEAD", "POST"])
def profiles(request: HttpRequest) -> HttpResponse:
    """Finish: how smooth a face is, and whether the damage is gone."""
    form = ProfileForm(request.POST or None, request.FILES or None, initial=_asked_wafer(request))
    return _page(request, form, "profiles", _look_at_profile)


@require_safe
def surface(request: HttpRequest, surface_id: int) -> HttpResponse:
    """A recorded face, read again from its own files; with another beside it when asked."""
    recorded = _recorded(surface_id, "fringes")
    others = [one for one in surface_records.list_surfaces("fringes", wafer_id=recorded.wafer_id) if one != recorded]
    other = next((one for one in others if str(one.surface_id) == request.GET.get("beside")), None)
    return shown(
        request, "surface.html", here="surfaces",
        **_told(recorded, drawn_fringes(recorded, None if other is None else (_face_name(other), other))),
        others=[(one, _face_name(one)) for one in others], other=other, compared=_compared(recorded, other),
    )  # fmt: skip


@require_safe
def profile(request: HttpRequest, surface_id: int) -> HttpResponse:
    """A recorded finish, read again from its own file."""
    recorded = _recorded(surface_id, "profile")
    return shown(request, "profile.html", here="profiles", **_told(recorded, drawn_profile(recorded)))


# ----------------------------------------------------------------------------------------------------------------------


def _page(
    request: HttpRequest, form: FaceForm, name: str, look: Callable[[HttpRequest, FaceForm, Files], Looked]
) -> HttpResponse:
    looked = Looked()
    kept: list[tuple[str, str]] = []
    if request.method == "POST":
        try:
            files, kept = _files(request, form)
            if form.is_valid():
                looked = look(request, form, files)
        except LapwrightError as error:
            form.take_in(error)
            looked = Looked(status=TABLE[error.code][1])
        if looked.recorded is not None:
            messages.success(request, _("Recorded with wafer %(wafer)s.") % {"wafer": looked.recorded.wafer_id})
            return redirect(name.removesuffix("s"), looked.recorded.surface_id)
    kind = "fringes" if name == "surfaces" else "profile"
    listed = surface_records.list_surfaces(kind, newest=LISTED)  # type: ignore[arg-type]  # one of the two
    return shown(
        request, f"{name}.html", here=name, form=form, looked=looked, view=looked.view, kept=kept,
        kept_text="\n".join(f"{mark} {file}" for mark, file in kept),
        rows=[(one, MOMENTS[one.moment], short_numbers(one)) for one in listed],
        status=looked.status if looked.status != 200 or not form.errors else 422,
    )  # fmt: skip


def _files(request: HttpRequest, form: FaceForm) -> tuple[Files, list[tuple[str, str]]]:
    """The files sent now, else those on the tray; each is put on the tray and known by its mark."""
    sent = sorted(request.FILES.getlist("files"), key=lambda one: one.name or "")
    if len(sent) > surface_readings.MOST_FILES:
        sentence = f"{len(sent)} files came; at most {surface_readings.MOST_FILES} are taken. Choose fewer."
        raise BadInput([Fault(sentence=sentence, field="files")])
    if sent:
        found = [(Path(one.name or "file").name, _content(one.size or 0, one.name or "file", one.read)) for one in sent]
        kept = [(surface_tray.put_on_tray(name, content, now_s=now().timestamp()), name) for name, content in found]
        return tuple(found), kept
    kept = [
        (mark, name)
        for mark, _space, name in (line.partition(" ") for line in request.POST.get("kept", "").splitlines())
    ][: surface_readings.MOST_FILES]
    if not kept:
        form.add_error("files", _("Choose a file."))
        return (), []
    return tuple((name, surface_tray.take_from_tray(mark)) for mark, name in kept), kept


def _content(size: int, name: str, read: Callable[[], bytes]) -> bytes:
    """The content of an upload, refused by its size before it is read."""
    if size > surface_readings.MOST_BYTES:
        limit = surface_readings.MOST_BYTES // 1024 // 1024
        sentence = f"The file {Path(name).name[:80]!r} is larger than the {limit} MB taken at most. Send a smaller one."
        raise BadInput([Fault(sentence=sentence, field="files")])
    return read()


def _look_at_fringes(request: HttpRequest, form: FaceForm, files: Files) -> Looked:
    if not isinstance(form, FringeForm):
        raise TypeError(form)
    settings = form.settings()
    try:
        recorded = _kept(request, form, files, settings, surface_records.record_fringes)
        view = None if recorded else fringe_view(read_fringes(files, settings))
    except BadInput:
        raise
    except LapwrightError as error:
        return Looked(refused=error.sentence, picture=_picture(files, settings), status=TABLE[error.code][1])
    return Looked(view=view, recorded=recorded)


def _look_at_profile(request: HttpRequest, form: FaceForm, files: Files) -> Looked:
    if not isinstance(form, ProfileForm):
        raise TypeError(form)
    settings = form.settings()
    if len(files) != 1:
        sentence = f"{len(files)} files came; one profile or map is expected. Look at each by itself."
        raise BadInput([Fault(sentence=sentence, field="files")])
    name, content = files[0]
    wafer = form.cleaned_data["wafer"]
    try:
        recorded = _kept(request, form, files, settings, surface_records.record_profile)
        material = surface_records.material_of(wafer) if wafer else None
        view = None if recorded else profile_view(read_profile(content, settings, name=name, material=material))
    except BadInput:
        raise
    except LapwrightError as error:
        faults = [one.sentence for one in error.faults] or [error.sentence]
        return Looked(refused=" ".join(faults), status=TABLE[error.code][1])
    return Looked(view=view, recorded=recorded)


def _kept(
    request: HttpRequest, form: FaceForm, files: Files, settings: Any, record: Callable[..., RecordedSurface]
) -> RecordedSurface | None:
    """The face recorded, when that was asked; None when it was only looked at."""
    data = form.cleaned_data
    if request.POST.get("deed") != "record":
        return None
    if not data["wafer"]:
        raise BadInput([Fault(sentence=_("Choose the wafer that it belongs to."), field="wafer")])
    after_stage = data["moment"] == "after_stage"
    asked = SurfaceRequest(
        wafer_id=data["wafer"],
        moment=data["moment"],
        files=files,
        stage_id=surface_records.stage_before(data["wafer"]) if after_stage else None,
        gauge_id=data["gauge"] or None,
        instrument=data["instrument"].strip(),
    )
    return record(asked, settings, **signed(request, data["reason"].strip() or "measured"))


def _picture(files: Files, settings: FringeSettings) -> PictureView | None:
    """The first picture as it came; None when it is none."""
    try:
        pictures = surface_readings.fringe_pictures(files)
        words = fringe_words(settings, surface_readings.height_per_fringe(settings))
    except LapwrightError:
        return None
    return bare_picture(pictures[0], words)


def _asked_wafer(request: HttpRequest) -> dict[str, str]:
    """The wafer and moment named in the address."""
    return {name: request.GET[name] for name in ("wafer", "moment") if name in request.GET}


def _recorded(surface_id: int, kind: str) -> RecordedSurface:
    found = surface_records.show_surface(surface_id)
    if found.kind != kind:
        raise NotFound(f"Record {surface_id} is of another kind. Open it from the Traveller of its wafer.")
    return found


def _told(face: RecordedSurface, drawn: Drawn) -> dict[str, Any]:
    """What the page of a recorded face shows, its files compared with their digests."""
    files = [documents.show_document(one) for one in face.document_ids]
    for one in files:
        documents.checked_path(one)  # refuses one that was altered
    return {
        "face": face,
        "view": drawn.view,
        "budgets": drawn.budgets,
        "moved": drawn.has_moved,
        "order_id": orders.recorded_wafer(face.wafer_id).order_id,
        "moment": MOMENTS[face.moment],
        "documents": files,
        "findings": surface_records.findings_of(face),
    }


def _face_name(face: RecordedSurface) -> str:
    return f"{face.wafer_id}, {MOMENTS[face.moment]}, {when_said(face.signature.at)}"


def _compared(face: RecordedSurface, other: RecordedSurface | None) -> list[tuple[str, str, str]]:
    """Label, this face's number, the other's."""
    if other is None:
        return []
    pairs = zip(
        fringe_numbers(face.numbers, sign_ambiguous=face.sign_ambiguous),
        fringe_numbers(other.numbers, sign_ambiguous=other.sign_ambiguous),
        strict=True,
    )
    return [(here.label, f"{here.text} {here.plusminus}", f"{there.text} {there.plusminus}") for here, there in pairs]
