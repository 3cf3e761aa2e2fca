"""What the reader of a thickness result must know beside the numbers, in sentences with stable codes."""

from __future__ import annotations

from lapwright.metrology.outliers import Outlier
from lapwright.metrology.thickness_sites import Notice
from lapwright.metrology.thickness_uncertainty import Scatter
from lapwright.model.readings import Conditions, Gauge

CONDITIONS_UNKNOWN = "The set does not say: {}."
NOT_SOAKED = "The piece had not soaked since its last hot step; read it again when it has."
GAUGE_LIMIT_UNKNOWN = (
    "The accuracy limit of the gauge is not known, so the mean has no uncertainty; name the gauge or its limit."
)
LOCAL_ERROR_UNKNOWN = (
    "The error of the gauge from site to site is not known; the uncertainties of TTV, wedge and dome leave it out."
)
SCATTER_UNKNOWN = (
    "Every site was read once and no site is left over to judge the scatter by, so no uncertainty is given; "
    "read each site two or three times."
)
SCATTER_FROM_RESIDUAL = (
    "Every site was read once; the scatter was taken from what plane and dome leave, which holds real form as well, "
    "and the noise bias of TTV is not given. Read each site two or three times."
)
NO_SCATTER_SEEN = "All repeats agree to the last digit: the scatter hides below a resolution that is not known."
WEDGE_NOT_CARRIED = "The sites lie on one line; they carry no wedge."
DOME_NOT_CARRIED = "The sites lie on one ring or are too few; they carry no dome."
CENTRE_NOT_MEASURED = "No site lies at the centre; the centre is not given."
OUTLIERS_NOT_TESTED = "Too few sites to tell a faulty one from form; read nine or more for that."


def condition_notices(conditions: Conditions) -> list[Notice]:
    """What a set does not say of how it was taken, and whether it was taken too soon after a hot step.

    Parameters
    ----------
    conditions : Conditions
        As stated with the set.

    Returns
    -------
    list of (code, sentence)

    Examples
    --------
    >>> [code for code, _ in condition_notices(Conditions())]
    ['thickness.conditions_unknown']
    """
    stated = {
        "held free or clamped": conditions.hold,
        "temperature": conditions.temperature,
        "soaked since the last hot step": conditions.soaked,
        "zero before": conditions.zero_before,
        "zero after": conditions.zero_after,
    }
    unknown = [name for name, value in stated.items() if value is None]
    notices = []
    if unknown:
        notices.append(("thickness.conditions_unknown", CONDITIONS_UNKNOWN.format(", ".join(unknown))))
    if conditions.soaked is False:
        notices.append(("thickness.not_soaked", NOT_SOAKED))
    return notices


def gauge_notices(gauge: Gauge | None, scatter: Scatter | None) -> list[Notice]:
    """What is not known of the gauge and its scatter, and what that leaves out.

    Parameters
    ----------
    gauge : Gauge or None
        The gauge, if known.
    scatter : Scatter or None
        The scatter of a reading that was used.

    Returns
    -------
    list of (code, sentence)

    Examples
    --------
    >>> [code for code, _ in gauge_notices(None, Scatter(deviation=1e-7, degrees_of_freedom=9.0, source="repeats"))]
    ['thickness.gauge_limit_unknown', 'thickness.local_error_unknown']
    """
    notices = []
    if gauge is None:
        notices.append(("thickness.gauge_limit_unknown", GAUGE_LIMIT_UNKNOWN))
    if gauge is None or gauge.local is None:
        notices.append(("thickness.local_error_unknown", LOCAL_ERROR_UNKNOWN))
    if scatter is None:
        notices.append(("thickness.repeat_scatter_unknown", SCATTER_UNKNOWN))
    elif scatter.source == "residual":
        notices.append(("thickness.repeat_scatter_unknown", SCATTER_FROM_RESIDUAL))
    elif scatter.deviation == 0.0 and (gauge is None or gauge.resolution == 0.0):
        notices.append(("thickness.no_scatter_seen", NO_SCATTER_SEEN))
    return notices


def form_notices(*, has_wedge: bool, has_dome: bool, has_centre: bool) -> list[Notice]:
    """What the sites cannot carry.

    Parameters
    ----------
    has_wedge, has_dome, has_centre : bool
        Whether the result gives it.

    Returns
    -------
    list of (code, sentence)

    Examples
    --------
    >>> form_notices(has_wedge=True, has_dome=True, has_centre=True)
    []
    """
    told = (
        (has_wedge, "thickness.wedge_not_carried", WEDGE_NOT_CARRIED),
        (has_dome, "thickness.dome_not_carried", DOME_NOT_CARRIED),
        (has_centre, "thickness.centre_not_measured", CENTRE_NOT_MEASURED),
    )
    return [(code, sentence) for has, code, sentence in told if not has]


def outlier_notices(outliers: tuple[Outlier, ...], *, spare_sites: int) -> list[Notice]:
    """Each suspect site, or that none could be found out.

    Parameters
    ----------
    outliers : tuple of Outlier
        The suspect sites.
    spare_sites : int [1]
        Sites beyond those that a plane needs.

    Returns
    -------
    list of (code, sentence)

    Examples
    --------
    >>> [code for code, _ in outlier_notices((), spare_sites=2)]
    ['thickness.outliers_not_tested']
    """
    notices = [("thickness.outlier", f"Site {one.label}: {one.reason}.") for one in outliers]
    if spare_sites < 3:
        notices.append(("thickness.outliers_not_tested", OUTLIERS_NOT_TESTED))
    return notices
