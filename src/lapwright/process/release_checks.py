"""What releasing the wafer means for an order: bow when free, the rim of a bevel, thickness kept from a bowed stack.

An order says nothing of the bonded face, the edge and the carrier, so these are arguments with usual values, and every
sentence says what was assumed.
"""

from __future__ import annotations

from dataclasses import dataclass

from lapwright.errors import NotFound
from lapwright.library import Finish, Library
from lapwright.metrology.outlines import furthest_reach
from lapwright.model.order import Order
from lapwright.process.bonding_stack import StackDesign, cut_of, stack_bow
from lapwright.process.release import (
    EdgeShape,
    ReleasedBow,
    RimAfterThinning,
    released_bow,
    rim_after_thinning,
    springback_variation,
)
from lapwright.process.words import micrometres as um

_USUAL_SETTING = 354.15  # K; a mounting wax sets about 60 K above the room (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseAssumptions:
    """What an order does not say: finish of the bonded face, shape of the edge, carrier with its thickness [m].

    `bond` [m] is the adhesive's thickness, `set_temperature` [K] where it sets.
    """

    other_finish: Finish = "polished"
    edge: EdgeShape = "not_stated"
    carrier: str = "borosilicate"
    carrier_thickness: float = 6e-3
    bond: float = 5e-6
    set_temperature: float = _USUAL_SETTING


USUAL_RELEASE = ReleaseAssumptions()


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseView:
    """The free wafer: its bow, its rim, and remarks for the offer. `bow` is None where the library knows too little."""

    bow: ReleasedBow | None
    rim: RimAfterThinning
    kept_variation: float | None
    remarks: tuple[str, ...]


def release_view(
    order: Order, library: Library, finish: Finish, *, release: ReleaseAssumptions = USUAL_RELEASE
) -> ReleaseView:
    """What the wafers of an order will be like once they are off their carriers.

    Parameters
    ----------
    order : Order
        Material, outline, orientation, thickness before and after.
    library : Library
        Elastic constants, expansions, forces of faces.
    finish : Finish
        Of the worked face at the end.
    release : ReleaseAssumptions
        What the order does not say.

    Returns
    -------
    ReleaseView

    Raises
    ------
    NotFound
        A material that the library does not hold at all.

    Examples
    --------
    >>> from lapwright.library import load
    >>> from lapwright.model.order import Limit
    >>> from lapwright.model.wafer import Round
    >>> order = Order(order_id="A", customer="B", material="Si", outline=Round(diameter=0.1), quantity=1,
    ...     start_thickness=525e-6, target_thickness=100e-6, limits=(Limit(quantity="ttv", upper=5e-6),),
    ...     edge_exclusion=3e-3, hold="free")
    >>> view = release_view(order, load(), "polished", release=ReleaseAssumptions(other_finish="lapped_fine"))
    >>> view.bow.expected < 0.0, view.rim.is_blade
    (True, True)
    """
    diameter = 2.0 * furthest_reach(order.outline)
    rim = rim_after_thinning(order.start_thickness, order.target_thickness, edge=release.edge)
    remarks = [] if release.edge == "square" else [rim.sentence]
    bow, kept = None, None
    try:
        bow = released_bow(
            library,
            material=order.material,
            finish=finish,
            other_finish=release.other_finish,
            thickness=order.target_thickness,
            diameter=diameter,
        )
        remarks.append(bow.sentence)
        stack = stack_bow(library, _design(order, diameter, release))
        kept = abs(springback_variation(stack.largest))
        remarks.append(
            f"On {release.carrier} of {release.carrier_thickness * 1e3:g} mm the cooled stack bows by up to {um(kept)} "
            "at the target; what the adhesive does not relax of it stays in the wafer as thickness."
        )
    except NotFound as error:
        library.material(order.material)  # a material that is not held at all is not a remark
        remarks.append(error.sentence)
    return ReleaseView(bow=bow, rim=rim, kept_variation=kept, remarks=tuple(remarks))


# ----------------------------------------------------------------------------------------------------------------------


def _design(order: Order, diameter: float, release: ReleaseAssumptions) -> StackDesign:
    return StackDesign(
        wafer=order.material,
        cut=cut_of(order.orientation),
        wafer_thickness=order.target_thickness,
        diameter=diameter,
        carrier=release.carrier,
        carrier_thickness=release.carrier_thickness,
        bond=release.bond,
        set_temperature=release.set_temperature,
    )
