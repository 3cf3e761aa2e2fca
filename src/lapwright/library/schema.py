"""Columns of each library table: name at the edge with its unit, field inside, and how text becomes a value.

This is the edge of the library: headings carry units, values inside are SI.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from lapwright.library import rows

Kind = Literal["text", "number", "list", "flag"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: heading, field of the row, kind, SI value = number * factor / per + offset, required or not."""

    heading: str
    name: str
    kind: Kind = "text"
    factor: float = 1.0
    per: float = 1.0
    offset: float = 0.0
    required: bool = True
    least: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table: file stem, row class, columns, and the fields that make a row's key."""

    stem: str
    row_class: type[Any]
    columns: tuple[Column, ...]
    key: tuple[str, ...]


#: Properties of a material: heading in the file -> (field name, factor to SI, divisor)
PROPERTIES: dict[str, tuple[str, float, float]] = {
    "density_g_per_cm3": ("density", 1e3, 1.0),
    "mohs": ("mohs", 1.0, 1.0),
    "hardness_gpa": ("hardness", 1e9, 1.0),
    "youngs_modulus_gpa": ("youngs_modulus", 1e9, 1.0),
    "youngs_modulus_axial_gpa": ("youngs_modulus_axial", 1e9, 1.0),
    "poisson_ratio": ("poisson_ratio", 1.0, 1.0),
    "biaxial_modulus_gpa": ("biaxial_modulus", 1e9, 1.0),
    "expansion_per_mk": ("expansion", 1.0, 1e6),
    "expansion_axial_per_mk": ("expansion_axial", 1.0, 1e6),
    "toughness_mpa_m05": ("toughness", 1e6, 1.0),
    "temperature_rate_k_per_min": ("temperature_rate", 1.0, 60.0),
    "lap_pressure_kpa": ("lap_pressure", 1e3, 1.0),
    "polish_pressure_kpa": ("polish_pressure", 1e3, 1.0),
}


def _text(name: str, *, required: bool = True) -> Column:
    return Column(heading=name, name=name, required=required)


def _list(name: str) -> Column:
    return Column(heading=name, name=name, kind="list", required=False)


def _um(name: str, *, required: bool = True) -> Column:
    return Column(heading=f"{name}_um", name=name, kind="number", per=1e6, required=required, least=0.0)


def _mm(name: str, *, required: bool = True) -> Column:
    return Column(heading=f"{name}_mm", name=name, kind="number", per=1e3, required=required, least=0.0)


def _celsius(name: str) -> Column:
    return Column(heading=f"{name}_c", name=name, kind="number", offset=273.15, required=False)


def _kpa(name: str, *, required: bool = True) -> Column:
    return Column(heading=f"{name}_kpa", name=name, kind="number", factor=1e3, required=required, least=0.0)


def _mpa(name: str, *, required: bool = True) -> Column:
    return Column(heading=f"{name}_mpa", name=name, kind="number", factor=1e6, required=required, least=0.0)


def _plain(name: str, heading: str = "", *, required: bool = True) -> Column:
    return Column(heading=heading or name, name=name, kind="number", required=required)


def _rate(name: str) -> Column:
    return Column(heading=f"{name}_um_per_min", name=name, kind="number", per=60e6, required=False, least=0.0)


TABLES: tuple[Table, ...] = (
    Table(
        stem="materials",
        row_class=rows.Material,
        key=("material_id",),
        columns=(
            _text("material_id"),
            _text("name"),
            _text("family"),
            _list("aliases"),
            Column(heading="brittle", name="brittle", kind="flag"),
            _text("cautions", required=False),
        ),
    ),
    Table(
        stem="material_properties",
        row_class=rows.Property,
        key=("material", "name"),
        columns=(
            _text("material"),
            Column(heading="property", name="name"),
            _plain("value"),
            _plain("low", required=False),
            _plain("high", required=False),
            _text("note", required=False),
        ),
    ),
    Table(
        stem="grain_grades",
        row_class=rows.GrainGrade,
        key=("system", "grade"),
        columns=(
            _text("system"),
            _text("grade"),
            _um("d50"),
            _um("d50_tolerance"),
            _um("d3_max", required=False),
            _um("d94_min", required=False),
            _um("largest", required=False),
            _text("note", required=False),
        ),
    ),
    Table(
        stem="abrasives",
        row_class=rows.Abrasive,
        key=("abrasive_id",),
        columns=(
            _text("abrasive_id"),
            _text("name"),
            _text("kind"),
            _text("process"),
            _um("grain"),
            Column(heading="hardness_gpa", name="hardness", kind="number", factor=1e9, least=0.0),
            _text("note", required=False),
        ),
    ),
    Table(
        stem="plates",
        row_class=rows.Plate,
        key=("plate_id",),
        columns=(
            _text("plate_id"),
            _text("name"),
            _text("process"),
            _text("hardness_class"),
            _list("abrasives"),
            _text("note", required=False),
        ),
    ),
    Table(
        stem="plate_rules",
        row_class=rows.PlateRule,
        key=("rule_id",),
        columns=(
            _text("rule_id"),
            Column(heading="sample_from_gpa", name="sample_from", kind="number", factor=1e9, least=0.0),
            Column(heading="sample_to_gpa", name="sample_to", kind="number", factor=1e9, least=0.0),
            _list("coarse_classes"),
            _list("fine_classes"),
            _text("why"),
        ),
    ),
    Table(
        stem="adhesives",
        row_class=rows.Adhesive,
        key=("adhesive_id",),
        columns=(
            _text("adhesive_id"),
            _text("name"),
            _text("kind"),
            _celsius("softens_low"),
            _celsius("softens_high"),
            _celsius("bonding_low"),
            _celsius("bonding_high"),
            _plain("viscosity_low", "viscosity_low_pa_s", required=False),
            _plain("viscosity_high", "viscosity_high_pa_s", required=False),
            _um("bond_line_low", required=False),
            _um("bond_line_high", required=False),
            _text("release"),
            _list("solvents"),
            _text("note", required=False),
        ),
    ),
    Table(
        stem="adhesive_viscosities",
        row_class=rows.AdhesiveViscosity,
        key=("adhesive", "temperature"),
        columns=(
            _text("adhesive"),
            Column(heading="temperature_c", name="temperature", kind="number", offset=273.15),
            Column(heading="viscosity_pa_s", name="viscosity", kind="number", least=1e-6),
            _text("note", required=False),
        ),
    ),
    Table(
        stem="strengths",
        row_class=rows.Strength,
        key=("material", "finish"),
        columns=(
            _text("material"),
            _text("finish"),
            _mpa("strength_low"),
            _mpa("strength_high"),
            Column(heading="weibull_modulus_low", name="weibull_modulus_low", kind="number", least=1.0),
            Column(heading="weibull_modulus_high", name="weibull_modulus_high", kind="number", least=1.0),
            _text("note", required=False),
        ),
    ),
    Table(
        stem="published_strengths",
        row_class=rows.PublishedStrength,
        key=("row_id",),
        columns=(
            *(_text(name) for name in ("row_id", "sample", "face", "test")),
            _mpa("strength_low", required=False),
            _mpa("strength_high", required=False),
            _text("finding"),
        ),
    ),
    Table(
        stem="face_forces",
        row_class=rows.FaceForce,
        key=("finish",),
        columns=(
            _text("finish"),
            Column(heading="force_low_n_per_m", name="force_low", kind="number", least=0.0),
            Column(heading="force_high_n_per_m", name="force_high", kind="number", least=0.0),
            _text("note", required=False),
        ),
    ),
    Table(
        stem="handling_limits",
        row_class=rows.HandlingLimit,
        key=("row_id",),
        columns=(
            _text("row_id"),
            _list("materials"),
            _um("thickness"),
            _mm("diameter"),
            _text("way"),
            _text("note", required=False),
        ),
    ),
    Table(
        stem="pads",
        row_class=rows.Pad,
        key=("pad_id",),
        columns=tuple(_text(name) for name in ("pad_id", "name", "hardness_class", "use", "care")),
    ),
    Table(
        stem="slurries",
        row_class=rows.Slurry,
        key=("slurry_id",),
        columns=(
            *(_text(name) for name in ("slurry_id", "name", "process", "abrasive")),
            _list("materials"),
            *(_text(name, required=False) for name in ("concentration", "acidity", "feed", "note")),
        ),
    ),
    Table(
        stem="solvents",
        row_class=rows.Solvent,
        key=("solvent_id",),
        columns=(
            _text("solvent_id"),
            _text("name"),
            _celsius("flash_point"),
            _celsius("autoignition"),
            _celsius("boiling_point"),
            _text("note", required=False),
        ),
    ),
    Table(
        stem="hazards",
        row_class=rows.Hazard,
        key=("hazard_id",),
        columns=(
            _text("hazard_id"),
            _text("caution"),
            *(_list(name) for name in ("materials", "steps", "adhesives", "solvents", "slurries")),
        ),
    ),
    Table(
        stem="removal_coefficients",
        row_class=rows.RemovalCoefficient,
        key=("row_id",),
        columns=(
            *(_text(name) for name in ("row_id", "material", "process", "abrasive_kind")),
            _um("grain"),
            _um("grain_low"),
            _um("grain_high"),
            _list("plates"),
            Column(heading="coefficient_per_pa", name="coefficient", kind="number", least=0.0),
            Column(heading="band", name="band", kind="number", least=1.0),
            _kpa("pressure_low"),
            _kpa("pressure_high"),
            _text("note", required=False),
        ),
    ),
    Table(
        stem="damage",
        row_class=rows.DamageRow,
        key=("row_id",),
        columns=(
            *(_text(name) for name in ("row_id", "material", "abrasive_kind")),
            _um("grain"),
            _um("depth_low"),
            _um("depth_high"),
            _text("depth_kind"),
            _text("note", required=False),
        ),
    ),
    Table(
        stem="damage_ratios",
        row_class=rows.DamageRatio,
        key=("row_id",),
        columns=(
            *(_text(name) for name in ("row_id", "material", "way", "instrument", "parameter")),
            Column(heading="ratio_low", name="ratio_low", kind="number", least=0.0),
            Column(heading="ratio_high", name="ratio_high", kind="number", least=0.0),
            _text("note", required=False),
        ),
    ),
    Table(
        stem="roughness",
        row_class=rows.RoughnessRow,
        key=("row_id",),
        columns=(
            *(_text(name) for name in ("row_id", "material", "process", "abrasive_kind")),
            _um("grain"),
            Column(heading="ra_low_nm", name="ra_low", kind="number", per=1e9, least=0.0),
            Column(heading="ra_high_nm", name="ra_high", kind="number", per=1e9, least=0.0),
            _um("peak_to_valley", required=False),
            _text("note", required=False),
        ),
    ),
    Table(
        stem="wafer_sizes",
        row_class=rows.WaferSize,
        key=("row_id",),
        columns=(
            _text("row_id"),
            _text("material"),
            _mm("diameter"),
            _um("thickness"),
            _mm("diameter_tolerance", required=False),
            _um("thickness_tolerance", required=False),
            _text("mark"),
            _mm("flat_length", required=False),
            _text("standard"),
            _text("note", required=False),
        ),
    ),
    Table(
        stem="published_rates",
        row_class=rows.PublishedRate,
        key=("row_id",),
        columns=(
            *(_text(name) for name in ("row_id", "material", "process", "abrasive")),
            _text("plate", required=False),
            _kpa("pressure_low", required=False),
            _kpa("pressure_high", required=False),
            _plain("speed_low", "speed_low_m_per_s", required=False),
            _plain("speed_high", "speed_high_m_per_s", required=False),
            _rate("rate_low"),
            _rate("rate_high"),
            _text("finish", required=False),
            _text("note", required=False),
        ),
    ),
    Table(
        stem="contradictions",
        row_class=rows.Contradiction,
        key=("contradiction_id",),
        columns=(
            *(_text(name) for name in ("contradiction_id", "subject", "statement", "handling")),
            _list("materials"),
            _list("quantities"),
        ),
    ),
)
TABLE_BY_STEM = {table.stem: table for table in TABLES}
