"""Keep a bond or make it again: by cost where costs are known, by a rule of thumb where they are not."""

from __future__ import annotations

from lapwright.errors import BadInput, CannotAnswer, Fault, OutOfValidRange
from lapwright.metrology.bond_line import BondResult
from lapwright.metrology.distributions import student_t_cdf
from lapwright.model.verdict import BondVerdict

#: Mean bond thickness within which a bond is usually kept, and the share of the TTV limit its wedge may take [m, 1].
#: Common practice, no source.
USUAL_MEAN = (2e-6, 10e-6)
USUAL_WEDGE_SHARE = 1.0 / 3.0


def chance_of_scrap(result: BondResult, *, ttv_limit: float) -> float:
    """Probability that the wafer, lapped on this bond, ends above its limit of total thickness variation.

    Parameters
    ----------
    result : BondResult
        With uncertainties.
    ttv_limit : float [m]
        Above zero.

    Returns
    -------
    float [1]
        From 0 to 1.

    Raises
    ------
    CannotAnswer
        The uncertainty of the prediction is unknown.
    OutOfValidRange
        `ttv_limit` is not above zero.

    Notes
    -----
    Student t about the predicted TTV less its noise bias, with the standard uncertainty and degrees of freedom of the
    prediction. Only what the bond and the carrier hand on is counted; what lapping itself adds is not.

    Examples
    --------
    See `bond_verdict`.
    """
    if not ttv_limit > 0.0:
        raise OutOfValidRange("ttv_limit", ttv_limit, "more than zero")
    uncertainty = result.predicted_ttv_uncertainty
    if uncertainty is None or result.predicted_ttv_noise_bias is None:
        raise CannotAnswer(
            "The chance of scrap needs the uncertainties of the three maps, and they are not known. "
            "Name the gauge or repeat the readings, or judge without costs."
        )
    above = result.predicted_ttv - result.predicted_ttv_noise_bias - ttv_limit
    if uncertainty.standard_uncertainty == 0.0:
        return 1.0 if above > 0.0 else 0.0
    return student_t_cdf(above / uncertainty.standard_uncertainty, uncertainty.degrees_of_freedom)


def bond_verdict(
    result: BondResult,
    *,
    ttv_limit: float,
    rebond_cost: float | None = None,
    wafer_value: float | None = None,
    chance_after_rebond: float = 0.0,
) -> BondVerdict:
    """Keep or re-bond, with the reason in a sentence.

    Parameters
    ----------
    result : BondResult
        The bond line.
    ttv_limit : float [m]
        Limit of total thickness variation of the finished wafer, above zero.
    rebond_cost : float, optional [1]
        Cost of bonding again, in the currency of `wafer_value`.
    wafer_value : float, optional [1]
        What is lost when the wafer is scrap.
    chance_after_rebond : float [1]
        Chance of scrap that a fresh bond still has, from 0 to 1.

    Returns
    -------
    BondVerdict

    Raises
    ------
    BadInput
        Only one of the two costs is given, or one is negative, or the chance is not from 0 to 1.
    CannotAnswer
        Costs are given but the uncertainty of the prediction is unknown.
    OutOfValidRange
        `ttv_limit` is not above zero.

    Notes
    -----
    With costs: re-bond when (chance of scrap now - chance after) x value > cost; at break-even keep. Without: keep
    when the predicted TTV meets the limit, the mean bond is 2 to 10 µm and its wedge at most a third of the limit
    (common practice, no source); a wedge that is above it only within its own uncertainty is no reason to re-bond.

    Examples
    --------
    >>> import numpy as np
    >>> from lapwright.metrology.bond_line import bond_line
    >>> from lapwright.model.wafer import ThicknessMap
    >>> x, y = np.array([0.0, 0.02, 0.0, -0.02, 0.0]), np.array([0.0, 0.0, 0.02, 0.0, -0.02])
    >>> def measured(thickness):
    ...     return ThicknessMap(x=x.copy(), y=y.copy(), thickness=thickness)
    >>> wedged = bond_line(measured(np.full(5, 500e-6)), measured(np.full(5, 1000e-6)),
    ...                    measured(1505e-6 + 1e-4 * x), diameter=0.05)
    >>> bond_verdict(wedged, ttv_limit=2e-6).advice
    'rebond'
    """
    if not ttv_limit > 0.0:
        raise OutOfValidRange("ttv_limit", ttv_limit, "more than zero")
    _refuse_costs(rebond_cost, wafer_value, chance_after_rebond)
    if rebond_cost is None or wafer_value is None:
        return _by_rule_of_thumb(result, ttv_limit)
    chance = chance_of_scrap(result, ttv_limit=ttv_limit)
    gain = (chance - chance_after_rebond) * wafer_value
    told = f"going on has a {100 * chance:.0f} % chance of scrap"
    if gain > rebond_cost:
        reason = f"Re-bond: {told}; bonding again saves {gain:.2f} on average and costs {rebond_cost:.2f}."
        return BondVerdict(advice="rebond", reason=reason)
    reason = f"Keep: {told}; bonding again would save {gain:.2f} on average and cost {rebond_cost:.2f}."
    return BondVerdict(advice="keep", reason=reason)


# ----------------------------------------------------------------------------------------------------------------------


def _by_rule_of_thumb(result: BondResult, ttv_limit: float) -> BondVerdict:
    against = []
    if result.predicted_ttv > ttv_limit:
        against.append(
            f"the wafer is predicted to end with a TTV of {1e6 * result.predicted_ttv:.2f} µm "
            f"(limit {1e6 * ttv_limit:.2f} µm)"
        )
    if not USUAL_MEAN[0] <= result.mean <= USUAL_MEAN[1]:
        low, high = (1e6 * end for end in USUAL_MEAN)
        against.append(f"the bond is {1e6 * result.mean:.2f} µm thick on average (usual {low:.0f} to {high:.0f} µm)")
    if result.wedge is not None and _least_wedge(result) > USUAL_WEDGE_SHARE * ttv_limit:
        against.append(
            f"its wedge of {1e6 * result.wedge.amount:.2f} µm is more than a third of the TTV limit "
            f"({1e6 * USUAL_WEDGE_SHARE * ttv_limit:.2f} µm)"
        )
    suspects = ", ".join(one.label for one in result.suspects)
    tail = f" Read again first: {suspects}." if suspects else ""
    if against:
        return BondVerdict(advice="rebond", reason=f"Re-bond: {'; '.join(against)}.{tail}")
    reason = (
        f"Keep: predicted TTV {1e6 * result.predicted_ttv:.2f} µm within {1e6 * ttv_limit:.2f} µm, bond "
        f"{1e6 * result.mean:.2f} µm on average, its wedge within a third of the limit.{tail}"
    )
    return BondVerdict(advice="keep", reason=reason)


def _least_wedge(result: BondResult) -> float:
    """The wedge less its expanded uncertainty, as far as that is known [m]."""
    amount = 0.0 if result.wedge is None else result.wedge.amount
    doubt = result.wedge_uncertainty
    return amount if doubt is None else amount - doubt.expanded_uncertainty


def _refuse_costs(rebond_cost: float | None, wafer_value: float | None, chance_after_rebond: float) -> None:
    faults = []
    if (rebond_cost is None) != (wafer_value is None):
        missing = "rebond_cost" if rebond_cost is None else "wafer_value"
        sentence = f"Only one of the two costs was given; give {missing} as well, or neither."
        faults.append(Fault(sentence=sentence, field=missing))
    for name, cost in (("rebond_cost", rebond_cost), ("wafer_value", wafer_value)):
        if cost is not None and not cost >= 0.0:
            faults.append(Fault(sentence=f"{name} is {cost:g}; expected zero or more.", field=name))
    if not 0.0 <= chance_after_rebond <= 1.0:
        sentence = f"chance_after_rebond is {chance_after_rebond:g}; expected from 0 to 1."
        faults.append(Fault(sentence=sentence, field="chance_after_rebond"))
    if faults:
        raise BadInput(faults, subject="The costs")
