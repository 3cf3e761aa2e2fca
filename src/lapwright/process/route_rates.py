"""The rates of a route from the lab's own runs, as `learning` predicts them."""

from __future__ import annotations

from lapwright.errors import CannotAnswer
from lapwright.library import Abrasive, Origin
from lapwright.process.candidates import RateBelief, RateSource
from lapwright.process.learning import RateModel, RunConditions, predict_rate, where_last_run
from lapwright.process.removal import CoefficientPrior, prior_coefficient

_OWN_RUNS = Origin(source="own runs", trust="own", file="", row=0)


def learned_rates(model: RateModel) -> RateSource:
    """Beliefs about rates from a model that has learned from runs.

    Parameters
    ----------
    model : RateModel
        With the runs it has learned from; none is the library alone.

    Returns
    -------
    RateSource
        Gives the next run's rate of a plate and abrasive, run-to-run scatter included.

    Examples
    --------
    >>> from lapwright.library import load
    >>> from lapwright.process.learning import rate_model
    >>> library = load()
    >>> rates = learned_rates(rate_model(library))
    >>> round(rates("LiTaO3", library.abrasive("sic-jis1000"), "cast-iron", 10e3, 0.5).median * 60e6, 2)
    5.13
    """

    def believed(material: str, abrasive: Abrasive, plate: str, pressure: float, speed: float) -> RateBelief:
        conditions = RunConditions(
            material=material, abrasive=abrasive.abrasive_id, plate=plate, pressure=pressure, speed=speed
        )
        found = predict_rate(model, where_last_run(model, conditions), with_parts=False)
        try:
            row = prior_coefficient(model.library, material, abrasive=abrasive, plate=plate)
            origin = row.origin
        except CannotAnswer:
            origin = _OWN_RUNS
        prior = CoefficientPrior(
            median=found.median / (pressure * speed),
            log_deviation=found.level_deviation,
            method=found.origin,
            row_id=found.row_id or "",
            origin=origin,
            trust=found.trust,
        )
        return RateBelief(
            median=found.median,
            deviation=found.log_deviation,
            level_deviation=found.level_deviation,
            source=found.origin,
            is_own=found.trust == "own",
            prior=prior,
        )

    return believed
