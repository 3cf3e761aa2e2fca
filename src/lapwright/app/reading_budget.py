"""Use case: why ± so much, for one reading of a certain piece with a gauge, before anything is read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from lapwright.library import Material
    from lapwright.metrology.uncertainty import Budget, CombinedUncertainty

#: The tip of a probe is taken for ruby: elastic modulus [Pa] and Poisson's ratio (usual handbook values, from memory).
TIP_MODULUS, TIP_POISSON = 380e9, 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceRead:
    """A piece and how it is read: thickness [m], reach of temperature [K], lift of its bow [m], probe [N, m].

    `force` and `tip_radius` None leave the probe's sinking out, as for a gauge without contact.
    """

    material: str
    thickness: float
    temperature_reach: float = 0.0
    bow_lift: float = 0.0
    force: float | None = None
    tip_radius: float | None = None
    repeats: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingBudget:
    """The budget with its sum, and what had to be left out because the library holds no value for it."""

    budget: Budget
    combined: CombinedUncertainty
    left_out: tuple[str, ...]


def reading_budget(gauge_id: str, piece: PieceRead) -> ReadingBudget:
    """Calibration, resolution, repeats, temperature, lift of a bow and sinking of the probe, each as a line.

    Temperature moves the piece alone; the frame of a comparing gauge follows its zero. The whole sinking is taken as
    a limit, as if the zero face did not give way. Raises `NotFound` for an unknown gauge or material, `BadInput` for a
    gauge whose repeatability is not recorded, `OutOfValidRange` for a negative limit.
    """
    from lapwright.library import load
    from lapwright.metrology.ready_budgets import thickness_budget
    from lapwright.metrology.uncertainty import combined_uncertainty
    from lapwright.records import queries

    gauge = queries.gauge(gauge_id)[0]
    material = load().material(piece.material)
    left_out = []
    expansion = material.value("expansion")
    if expansion is None and piece.temperature_reach:
        left_out.append(f"Temperature is left out: the library holds no expansion of {material.name}.")
    sinking = _sinking(material, piece)
    if sinking is None:
        left_out.append(f"The probe's sinking is left out: the library holds no elastic values of {material.name}.")
    budget = thickness_budget(
        gauge,
        repeats=piece.repeats,
        expansion=(expansion or 0.0) * piece.thickness,
        temperature_reach=piece.temperature_reach,
        bow_lift=piece.bow_lift,
        sinking=sinking or 0.0,
    )
    combined = combined_uncertainty(budget, value=piece.thickness)
    return ReadingBudget(budget=budget, combined=combined, left_out=tuple(left_out))


# ----------------------------------------------------------------------------------------------------------------------


def _sinking(material: Material, piece: PieceRead) -> float | None:
    """How far the probe sinks into the piece [m]; None when the library cannot tell."""
    from lapwright.metrology.ready_budgets import probe_sinking

    if piece.force is None or piece.tip_radius is None:
        return 0.0
    modulus, poisson = material.value("youngs_modulus"), material.value("poisson_ratio")
    if modulus is None or poisson is None:
        return None
    contact = 1.0 / ((1.0 - poisson**2) / modulus + (1.0 - TIP_POISSON**2) / TIP_MODULUS)
    return probe_sinking(force=piece.force, tip_radius=piece.tip_radius, contact_modulus=contact)
