"""The library as one frozen value, with the look-ups that pages and process models ask for.

A look-up that finds nothing raises `NotFound` with the names that are there, or returns an empty tuple where "nothing
known" is an answer. No value is made up here: scaling to another grain or material belongs to `process`.
"""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from lapwright.errors import NotFound
from lapwright.library import rows

#: Shown above every list of hazards.
SAFETY_FIRST = "Site rules and the safety data sheet come first; these lines only remind."


@dataclass(frozen=True, kw_only=True)
class Library:
    """All rows of the shipped files and of one user file. SI."""

    materials: tuple[rows.Material, ...]
    grain_grades: tuple[rows.GrainGrade, ...]
    abrasives: tuple[rows.Abrasive, ...]
    plates: tuple[rows.Plate, ...]
    plate_rules: tuple[rows.PlateRule, ...]
    adhesives: tuple[rows.Adhesive, ...]
    adhesive_viscosities: tuple[rows.AdhesiveViscosity, ...]
    strengths: tuple[rows.Strength, ...]
    published_strengths: tuple[rows.PublishedStrength, ...]
    face_forces: tuple[rows.FaceForce, ...]
    handling_limits: tuple[rows.HandlingLimit, ...]
    pads: tuple[rows.Pad, ...]
    slurries: tuple[rows.Slurry, ...]
    solvents: tuple[rows.Solvent, ...]
    hazards: tuple[rows.Hazard, ...]
    removal_coefficients: tuple[rows.RemovalCoefficient, ...]
    damage: tuple[rows.DamageRow, ...]
    damage_ratios: tuple[rows.DamageRatio, ...]
    roughness: tuple[rows.RoughnessRow, ...]
    wafer_sizes: tuple[rows.WaferSize, ...]
    published_rates: tuple[rows.PublishedRate, ...]
    contradictions: tuple[rows.Contradiction, ...]
    sources: Mapping[str, str]

    def tool_names(self) -> dict[str, str]:
        """The name of each abrasive and each plate, by its id.

        >>> from lapwright.library import load
        >>> load().tool_names()["cast-iron"]
        'cast iron, grooved'
        """
        return {one.abrasive_id: one.name for one in self.abrasives} | {one.plate_id: one.name for one in self.plates}

    def material(self, name: str) -> rows.Material:
        """A material by its id, its name or one of its other names, in any case of letters.

        >>> from lapwright.library import load
        >>> load().material("lithium tantalate").material_id
        'LiTaO3'
        """
        found = self._named_materials.get(name.strip().casefold())
        if found is not None:
            return found
        raise _not_found("material", name, [m.material_id for m in self.materials])

    @cached_property
    def _named_materials(self) -> dict[str, rows.Material]:
        """The first material of each name, in small letters."""
        found: dict[str, rows.Material] = {}
        for material in self.materials:
            for name in (material.material_id, material.name, *material.aliases):
                found.setdefault(name.casefold(), material)
        return found

    def abrasive(self, abrasive_id: str) -> rows.Abrasive:
        """An abrasive by its id."""
        for abrasive in self.abrasives:
            if abrasive.abrasive_id == abrasive_id:
                return abrasive
        raise _not_found("abrasive", abrasive_id, [a.abrasive_id for a in self.abrasives])

    def plate(self, plate_id: str) -> rows.Plate:
        """A plate or pad by its id."""
        for plate in self.plates:
            if plate.plate_id == plate_id:
                return plate
        raise _not_found("plate", plate_id, [p.plate_id for p in self.plates])

    def adhesive(self, adhesive_id: str) -> rows.Adhesive:
        """An adhesive by its id."""
        for adhesive in self.adhesives:
            if adhesive.adhesive_id == adhesive_id:
                return adhesive
        raise _not_found("adhesive", adhesive_id, [a.adhesive_id for a in self.adhesives])

    def viscosities_of(self, adhesive_id: str) -> tuple[rows.AdhesiveViscosity, ...]:
        """The viscosities held for an adhesive, coldest first; empty when there is none."""
        found = (row for row in self.adhesive_viscosities if row.adhesive == adhesive_id)
        return tuple(sorted(found, key=lambda row: row.temperature))

    def strength_of(self, material: str, finish: rows.Finish) -> rows.Strength | None:
        """The strength held for a material and finish; None when there is none."""
        return next((row for row in self.strengths if (row.material, row.finish) == (material, finish)), None)

    def face_force(self, finish: rows.Finish) -> rows.FaceForce:
        """The force of a worked face by its finish."""
        for row in self.face_forces:
            if row.finish == finish:
                return row
        raise _not_found("face force of finish", finish, [row.finish for row in self.face_forces])

    def grain_grade(self, system: str, grade: str) -> rows.GrainGrade:
        """A graded grain size: equal numbers of different systems are different sizes."""
        for row in self.grain_grades:
            if (row.system, row.grade) == (system, grade):
                return row
        raise _not_found("grain grade", f"{system} {grade}", [f"{g.system} {g.grade}" for g in self.grain_grades])

    def plate_rule(self, hardness: float) -> rows.PlateRule:
        """The rule that names the plate hardness for a sample of this hardness [Pa]."""
        for rule in self.plate_rules:
            if rule.sample_from <= hardness < rule.sample_to:
                return rule
        raise _not_found("plate rule for hardness", f"{hardness / 1e9:g} GPa", [r.rule_id for r in self.plate_rules])

    def coefficients_of(self, material: str, process: rows.Process) -> tuple[rows.RemovalCoefficient, ...]:
        """The removal coefficients held for a material and a process; empty when there is none."""
        return tuple(r for r in self.removal_coefficients if r.material == material and r.process == process)

    def damage_of(self, material: str) -> tuple[rows.DamageRow, ...]:
        """The damage depths held for a material that may be planned on: crack or damaged-layer depths only."""
        plannable = ("crack", "damaged_layer")
        return tuple(r for r in self.damage if r.material == material and r.depth_kind in plannable)

    def damage_ratios_of(self, material: str) -> tuple[rows.DamageRatio, ...]:
        """The ratios of damage to roughness held for a material; empty when there is none."""
        return tuple(r for r in self.damage_ratios if r.material == material)

    def roughness_of(self, material: str, process: rows.Process) -> tuple[rows.RoughnessRow, ...]:
        """The roughness figures held for a material and a process; empty when there is none."""
        return tuple(r for r in self.roughness if r.material == material and r.process == process)

    def contradictions_about(self, material: str, quantities: Iterable[str]) -> tuple[rows.Contradiction, ...]:
        """Open contradictions between sources that touch a material and one of the quantities."""
        wanted = set(quantities)
        return tuple(
            row
            for row in self.contradictions
            if wanted & set(row.quantities) and (not row.materials or material in row.materials)
        )

    def hazards_for(
        self, material: str, *, step: str, adhesive: str = "", solvent: str = "", slurry: str = ""
    ) -> tuple[rows.Hazard, ...]:
        """The hazards to show for a material at a step, with the adhesive, solvent and slurry in use there.

        A hazard that lists adhesives, solvents or slurries is shown only when one of them is named.
        """
        return self.hazards_met(material, step=step, adhesives=(adhesive,), solvents=(solvent,), slurries=(slurry,))

    def hazards_met(
        self,
        material: str,
        *,
        step: str,
        adhesives: Collection[str] = (),
        solvents: Collection[str] = (),
        slurries: Collection[str] = (),
    ) -> tuple[rows.Hazard, ...]:
        """The hazards to show for a material at a step where any of these adhesives, solvents, slurries may be met."""
        given = ((material,), (step,), adhesives, solvents, slurries)
        return tuple(hazard for hazard in self.hazards if _matches(hazard, given))


# ----------------------------------------------------------------------------------------------------------------------


def _matches(hazard: rows.Hazard, given: tuple[Collection[str], ...]) -> bool:
    lists = (hazard.materials, hazard.steps, hazard.adhesives, hazard.solvents, hazard.slurries)
    return all(not listed or any(one in listed for one in met) for listed, met in zip(lists, given, strict=True))


def _not_found(what: str, name: str, known: list[str]) -> NotFound:
    near = difflib.get_close_matches(name, known, 1, cutoff=0.5)
    hint = f" Did you mean {near[0]!r}?" if near else ""
    return NotFound(
        f"The library holds no {what} {name!r}; it holds {', '.join(known)}.{hint} Add a row of your own if it is new.",
        name=name,
    )
