"""How well an order's limits are kept, on its page: one sentence a limit, from few wafers, with how little that says."""

import html
import re
from dataclasses import replace

import numpy as np
import pytest

from lapwright.model.readings import Signature
from lapwright.process.decisions import judge
from lapwright.testing.lot import ORDER, Lot

SIX = (99.4, 100.3, 100.1, 100.2, 100.4, 100.2)
ROUGHNESS = (0.5,) * 6
TTV = (1.2, 1.5, 1.1, 1.4, 1.3, 1.6)


@pytest.fixture
def finish(records):  # noqa: ARG001  the database it writes to
    """Puts an order of six on record and judges so many of its wafers."""
    from lapwright.records import writer

    lot = Lot()
    lot.receive(replace(ORDER, quantity=6))

    def done(count, state="judged"):
        signature = Signature(**lot.why())
        for number in range(count):
            values = (SIX[number] * 1e-6, TTV[number] * 1e-6, ROUGHNESS[number] * 1e-9)
            verdicts = [
                (judge(limit, value, None, rule=ORDER.rule), None, None)
                for limit, value in zip(ORDER.limits, values, strict=True)
            ]
            writer.add_verdicts(f"AP-1-0{number + 1}", verdicts, signature)
            writer.move_wafer(f"AP-1-0{number + 1}", state, signature)

    return done


def rows_of(client):
    """The rows of the section as text, and their links."""
    page = client.get("/orders/AP-1").content.decode()
    if 'id="capability"' not in page:
        return []
    part = page.split('id="capability"')[1].partition("</table>")[0].partition("<tbody>")[2]
    return [
        (html.unescape(re.sub(r"<[^>]+>|\s+", " ", row)), re.findall(r'href="([^"]+)"', row))
        for row in part.split("</tr>")[:-1]
    ]


def test_six_wafers_give_an_index_with_its_interval(client, finish):
    """Cpk 1.77 ± 1.96 √(1/(9·6) + 1.77²/(2·5)) is 0.6 to 2.9 (NIST/SEMATECH e-Handbook 6.1.6, from memory).

    The handbook's interval is one for large samples, 0.641 to 2.899; the end points here are those of the
    non-central t, within 0.06 of it.
    """
    finish(6)
    text, links = rows_of(client)[0]
    low, high = map(float, re.search(r"Cpk 1\.8 \((\d\.\d) to (\d\.\d), 95 %\), 6 wafers\.", text).groups())
    assert (low, high) == pytest.approx((0.641, 2.899), abs=0.06 + 0.05)  # 0.05 by rounding to one digit
    assert "It may as well lie below 1" in text
    assert "too few to check normality" in text
    assert links == [f"/orders/AP-1/wafers/AP-1-0{number}" for number in (1, 5, 2)]  # 99.4, 100.4, 100.3


def test_a_limit_on_one_side_and_values_all_alike(client, finish):
    """TTV up to 2 of mean 1.35 and s 0.187: 0.65/(3·0.187) = 1.16; equal roughness has no index, and says why."""
    finish(6)
    _thickness, (ttv, links), (roughness, _links) = rows_of(client)
    assert "Cpk 1.2 (0.4 to 1.9, 95 %), 6 wafers." in ttv
    assert links[0] == "/orders/AP-1/wafers/AP-1-06"
    assert "too coarse a gauge" in roughness
    assert "Cpk" not in roughness


@pytest.mark.parametrize(("count", "state"), [(0, "judged"), (1, "judged"), (6, "in_work")])
def test_one_wafer_or_wafers_gone_back_to_work_say_nothing(client, finish, count, state):
    """One value has no scatter, and a wafer that is worked on again is not finished."""
    finish(count, state)
    assert rows_of(client) == []


def test_a_refused_wafer_counts(client, finish):
    """What broke after it was judged was made by the same process."""
    finish(6, "rejected")
    assert "6 wafers" in rows_of(client)[0][0]


def test_an_end_that_rounds_to_nought_has_no_sign():
    """Minus 0.02 reads 0.0, as a person would write it."""
    from lapwright.formats.statistics_results import capability_sentence
    from lapwright.metrology.capability import capability_study

    study = capability_study(np.array([1.0, 2.0, 3.0]), upper=2.1)
    near = replace(study, cpk_interval=(-0.02, 0.6))
    assert capability_sentence(near, counted_as="wafers") == "Cpk 0.0 (0.0 to 0.6, 95 %), 3 wafers."
