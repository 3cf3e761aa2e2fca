"""Restricted likelihood: equal cells as the analysis of variance, unequal ones as a general library."""

import warnings

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from lapwright.errors import OutOfValidRange
from lapwright.metrology.gauge_study import crossed_study
from lapwright.metrology.restricted_likelihood import restricted_components


def _nested(seed=2):
    rng = np.random.default_rng(seed)
    wafer, day = np.repeat(np.arange(8), 12), np.tile(np.repeat(np.arange(4), 3), 8)
    value = 5.0 + rng.normal(0, 1.0, 8)[wafer] + rng.normal(0, 0.7, 32)[wafer * 4 + day] + rng.normal(0, 0.4, 96)
    return value, wafer, day


def test_equal_cells_give_the_analysis_of_variance():
    """Crossed, all estimates above zero: six digits."""
    part, operator = np.repeat(np.arange(8), 9), np.tile(np.repeat(np.arange(3), 3), 8)
    rng = np.random.default_rng(8)
    value = (
        rng.normal(0, 2.0, 8)[part]
        + rng.normal(0, 1.0, 3)[operator]
        + rng.normal(0, 0.6, 24)[part * 3 + operator]
        + rng.normal(0, 0.3, 72)
    )
    table = crossed_study(value, part=part, operator=operator, interaction="keep").components
    found = restricted_components(value, levels=(("part", part), ("operator", operator)), crossed=True).components
    assert (table.part, table.operator, table.interaction, table.repeatability) == pytest.approx(
        (found["part"], found["operator"], found["interaction"], found["residual"]), rel=1e-5
    )


def test_unequal_groups_agree_with_statsmodels():
    """Nested, a third of the readings left out: variances to four digits."""
    value, wafer, day = _nested()
    keep = np.random.default_rng(1).uniform(size=value.size) > 0.33
    value, wafer, day = value[keep], wafer[keep], day[keep]
    frame = pd.DataFrame({"y": value, "wafer": wafer, "day": [f"{w}-{d}" for w, d in zip(wafer, day, strict=True)]})
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = sm.MixedLM.from_formula(
            "y ~ 1", groups="wafer", vc_formula={"day": "0 + C(day)"}, re_formula="1", data=frame
        )
        theirs = model.fit(reml=True, method="bfgs", gtol=1e-8)
    found = restricted_components(value, levels=(("wafer", wafer), ("day", day))).components
    assert float(theirs.cov_re.iloc[0, 0]) == pytest.approx(found["wafer"], rel=1e-3)
    assert float(theirs.vcomp[0]) == pytest.approx(found["day"], rel=1e-3)
    assert float(theirs.scale) == pytest.approx(found["residual"], rel=1e-3)


def test_a_variance_at_its_bound_is_named():
    """Groups that differ less than their scatter: nought, without a standard error."""
    value = np.array([1.0, 3.0, 2.0, 2.1, 1.0, 3.1, 0.9, 3.0, 2.0])
    found = restricted_components(value, levels=(("day", np.array([0, 0, 0, 1, 1, 1, 2, 2, 2])),))
    assert found.at_zero == ("day",)
    assert found.standard_errors["day"] is None


def test_without_repeats_nothing_can_be_told():
    """Refused."""
    with pytest.raises(OutOfValidRange, match="repeats"):
        restricted_components(np.arange(4.0), levels=(("day", np.arange(4)),))
