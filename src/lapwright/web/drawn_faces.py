"""The page of a recorded face as it is drawn: kept, for neither its row nor its files ever change."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import Any

from django.utils.translation import get_language

from lapwright.app import documents, surface_records
from lapwright.app.kept_texts import kept_text
from lapwright.app.profile_readings import ProfileReading
from lapwright.app.surface_readings import FringeReading, flatness_known
from lapwright.errors import NotFound
from lapwright.model.surface_record import FringeSettings, RecordedSurface
from lapwright.web.budget_views import finish_tables, flatness_tables
from lapwright.web.surface_views import fringe_numbers, fringe_view, profile_numbers, profile_view

MOST_DRAWN = 50  # profiles of which the drawings are kept in memory, about half a megabyte each


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A recorded face drawn: the view, its budgets, and whether its files read otherwise now than recorded."""

    view: Any
    budgets: Any
    has_moved: bool


def drawn_fringes(face: RecordedSurface, beside: tuple[str, RecordedSurface] | None = None) -> Drawn:
    """A face by fringes, on one scale with another one beside it, which comes with its name."""

    def compute() -> str:
        reading = _read(face)
        other = None if beside is None else (beside[0], _read(beside[1]))
        view = asdict(fringe_view(reading, beside=other))
        fringes = reading.fringes
        scale = {"fringe_height": fringes.fringe_height, "noise": fringes.noise, "method": fringes.method}
        return json.dumps({"view": view, "numbers": reading.numbers, "scale": scale | {"pv": reading.shape.pv}})

    follows_from = [*_of(face), *(() if beside is None else (beside[0], *_of(beside[1])))]
    told = json.loads(kept_text(["fringes", *follows_from], compute))
    if not isinstance(face.settings, FringeSettings):  # the files would have been refused
        raise NotFound(f"Record {face.surface_id} is of another kind. Open it from the Traveller of its wafer.")
    known = flatness_known(face.settings, **told["scale"])
    moved = _fringe_words(face, face.numbers) != _fringe_words(face, told["numbers"])
    return Drawn(view=told["view"], budgets=flatness_tables(known), has_moved=moved)


def drawn_profile(face: RecordedSurface) -> Drawn:
    """A profile or a small map; kept in memory alone, for it is drawn quickly."""
    return _drawn_profile(face.surface_id, get_language(), surface_records.material_of(face.wafer_id))


def kept_case(face: RecordedSurface, name: str, compute: Callable[[], Mapping[str, Any]]) -> dict[str, Any]:
    """What is worked out of a face by fringes to explain a number, in plain types."""
    told: dict[str, Any] = json.loads(kept_text(["case", name, *_of(face)], lambda: json.dumps(compute())))
    return told


# ----------------------------------------------------------------------------------------------------------------------


def _of(face: RecordedSurface) -> list[str]:
    """All that the drawings of a face follow from: its files, how they are read, the language of the words."""
    files = [documents.show_document(one).sha256 for one in face.document_ids]
    return [*files, repr(face.settings), str(get_language())]


def _read(face: RecordedSurface) -> FringeReading:
    reading = surface_records.read_again(face)
    if not isinstance(reading, FringeReading):
        raise NotFound(f"Record {face.surface_id} is of another kind. Open it from the Traveller of its wafer.")
    return reading


def _fringe_words(face: RecordedSurface, numbers: Mapping[str, float | None]) -> Any:
    return fringe_numbers(numbers, sign_ambiguous=face.sign_ambiguous)


@lru_cache(maxsize=MOST_DRAWN)
def _drawn_profile(surface_id: int, language: str | None, material: str) -> Drawn:
    del language, material  # its words are in the drawings, and the damage goes by the material
    face = surface_records.show_surface(surface_id)
    reading = surface_records.read_again(face)
    if not isinstance(reading, ProfileReading):
        raise NotFound(f"Record {surface_id} is of another kind. Open it from the Traveller of its wafer.")
    moved = profile_numbers(face.numbers) != profile_numbers(reading.numbers)
    return Drawn(view=profile_view(reading), budgets=finish_tables(reading), has_moved=moved)
