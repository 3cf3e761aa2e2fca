"""Thirty-two invented orders, answered by hand.

The hand calculation, with the usual assumptions (um):
guard = 2.0537 x limit / sqrt 3 (2 %): 1.186 at 1 um, 0.593 at 0.5, 3.557 at 3; none under simple acceptance.
Thickness needs guard + 2 x stop (0.1 polished: 0.2; 0.6 lapped: 1.2).
TTV needs 0.5 + 2 x 0.4 = 1.3, and 2.0537 x sqrt 2 x local / sqrt 3: 0.503 at 0.3 um, 0.168 at 0.1.
2u = 2 sqrt(limit^2/3 + stop^2): lap 1.665, polish 1.172 at 1 um; lap 1.332, polish 0.611 at 0.5.
First lap: 1.5 x start damage + (start TTV 5 + bond 2)/2 + 2u = 5.165 at 1 um.
Polish after the gentlest lap: 1.5 d + 0.5 + 2u with d (finest grain the rows reach) Si 0.75, GaAs 1.5, InP 2.0 (1 um
alumina), LiTaO3 3.130 (3 um alumina: 12 x 3/11.5): so least stock Si 7.962, GaAs 9.087, InP 9.837, LiTaO3 11.533.
Rim 4.35 x grain: 13.05 at 3 um, 4.35 at 1 um, 65.25 at 15 um (lap only).
Finest known Ra (nm): LiTaO3 0.6, Si 0.5, GaAs 1.0, InP 0.5, sapphire 0.3, quartz none.
"""

import pytest

from lapwright.library import load
from lapwright.model.order import DecisionRule, Limit, Order
from lapwright.model.readings import Gauge
from lapwright.model.wafer import Round
from lapwright.process.feasibility import feasibility

LIBRARY = load()
S, G = "simple", "guarded"

# material, start, target, +/- tolerance, TTV, edge exclusion, Ra nm, start TTV, start damage, gauge limit, local, rule
TABLE = [
    # shares used: stock 11.533/400, thickness 1.386/2 = 0.69, TTV 1.803/2 = 0.90, Ra 0.6
    (("LiTaO3", 500, 100, 2, 2, 2000, 1, None, 0, 1, 0.3, G), "can", "ttv"),
    # 1.386 > 1
    (("LiTaO3", 500, 100, 1, 2, 2000, 1, None, 0, 1, 0.3, G), "only_with", "thickness"),
    # 0.793/1 = 0.79 < 0.90
    (("LiTaO3", 500, 100, 1, 2, 2000, 1, None, 0, 0.5, 0.3, G), "can", "ttv"),
    # 0.793/0.8 = 0.99
    (("LiTaO3", 500, 100, 0.8, 2, 2000, 1, None, 0, 0.5, 0.3, G), "can", "thickness"),
    # 1.803 > 1.5
    (("LiTaO3", 500, 100, 2, 1.5, 2000, 1, None, 0, 1, 0.3, G), "only_with", "ttv"),
    # 1.468/1.5 = 0.98
    (("LiTaO3", 500, 100, 2, 1.5, 2000, 1, None, 0, 1, 0.1, G), "can", "ttv"),
    # error from site to site not known
    (("LiTaO3", 500, 100, 2, 2, 2000, 1, None, 0, 1, None, G), "only_with", "ttv"),
    # 0.6 > 0.5
    (("LiTaO3", 500, 100, 2, 2, 2000, 0.5, None, 0, 1, 0.3, G), "cannot", "roughness_ra"),
    # 11.533 > 10
    (("LiTaO3", 500, 490, 2, 2, 2000, 1, None, 0, 1, 0.3, G), "cannot", "stock"),
    # 11.533/12 = 0.96
    (("LiTaO3", 500, 488, 2, 2, 2000, 1, None, 0, 1, 0.3, G), "can", "stock"),
    # 11.533 + 1.5 x 5 = 19.033 of 20
    (("LiTaO3", 500, 480, 2, 2, 2000, 1, None, 5, 1, 0.3, G), "can", "stock"),
    # 19.033 > 18
    (("LiTaO3", 500, 482, 2, 2, 2000, 1, None, 5, 1, 0.3, G), "cannot", "stock"),
    # 11.533 + (20 - 5)/2 = 19.033 > 19
    (("LiTaO3", 500, 481, 2, 2, 2000, 1, 20, 0, 1, 0.3, G), "cannot", "stock"),
    # 11.533 - (5 - 1)/2 = 9.533 of 10
    (("LiTaO3", 500, 490, 2, 2, 2000, 1, 1, 0, 1, 0.3, G), "can", "stock"),
    # rim 13.05 > 10
    (("LiTaO3", 500, 100, 2, 2, 10, 1, None, 0, 1, 0.3, G), "only_with", "edge_exclusion"),
    # no exclusion at all
    (("LiTaO3", 500, 100, 2, 2, 0, 1, None, 0, 1, 0.3, G), "only_with", "edge_exclusion"),
    # simple: thickness 0.2/0.5 = 0.4, TTV 1.3/2 = 0.65, Ra 0.6
    (("LiTaO3", 500, 100, 0.5, 2, 2000, 1, None, 0, 1, 0.3, S), "can", "ttv"),
    # simple: 0.2 > 0.1
    (("LiTaO3", 500, 100, 0.1, 2, 2000, 1, None, 0, 1, 0.3, S), "only_with", "thickness"),
    # tolerance fails and Ra fails: no is worse than only with
    (("LiTaO3", 500, 100, 1, 2, 2000, 0.5, None, 0, 1, 0.3, G), "cannot", "roughness_ra"),
    # Ra 0.5/1 is the tightest: thickness 0.28, TTV 0.36
    (("Si", 525, 200, 5, 5, 2000, 1, None, 0, 1, 0.3, G), "can", "roughness_ra"),
    # lapped only: (1.186 + 1.2)/5 = 0.48
    (("Si", 525, 200, 5, 5, 2000, None, None, 0, 1, 0.3, G), "can", "thickness"),
    # 2.386 > 2
    (("Si", 525, 200, 2, 5, 2000, None, None, 0, 1, 0.3, G), "only_with", "thickness"),
    # 1.793/2 = 0.90
    (("Si", 525, 200, 2, 5, 2000, None, None, 0, 0.5, 0.3, G), "can", "thickness"),
    # 7.962/8 = 0.995
    (("Si", 525, 517, 5, 5, 2000, 1, None, 0, 1, 0.3, G), "can", "stock"),
    # 7.962 > 7
    (("Si", 525, 518, 5, 5, 2000, 1, None, 0, 1, 0.3, G), "cannot", "stock"),
    # lapped only: 5.165 > 5
    (("Si", 525, 520, 5, 5, 2000, None, None, 0, 1, 0.3, G), "cannot", "stock"),
    # 1.0/1 = 1.00, just enough
    (("GaAs", 625, 150, 5, 5, 2000, 1, None, 0, 1, 0.3, G), "can", "roughness_ra"),
    # 1.0 > 0.9
    (("GaAs", 625, 150, 5, 5, 2000, 0.9, None, 0, 1, 0.3, G), "cannot", "roughness_ra"),
    # 9.087 > 9
    (("GaAs", 625, 616, 5, 5, 2000, 2, None, 0, 1, 0.3, G), "cannot", "stock"),
    # thickness (3.557 + 0.2)/4 = 0.94, TTV 1.803/4, Ra 0.5
    (("InP", 350, 120, 4, 4, 2000, 1, None, 0, 3, 0.3, G), "can", "thickness"),
    # no finish of quartz is known
    (("quartz", 500, 100, 5, 5, 2000, 1, None, 0, 1, 0.3, G), "cannot", "roughness_ra"),
    # 0.3 > 0.2
    (("sapphire", 430, 200, 5, 5, 2000, 0.2, None, 0, 1, 0.3, G), "cannot", "roughness_ra"),
]


def asked(row):
    """Order and gauge of a row of the table."""
    material, start, target, tolerance, ttv, exclusion, ra, start_ttv, damage, limit, local, rule = row
    limits = [
        Limit(quantity="thickness", lower=(target - tolerance) * 1e-6, upper=(target + tolerance) * 1e-6),
        Limit(quantity="ttv", upper=ttv * 1e-6),
    ]
    if ra is not None:
        limits.append(Limit(quantity="roughness_ra", upper=ra / 1e9))
    order = Order(
        order_id="A", customer="B", material=material, outline=Round(diameter=0.0508), quantity=1,
        start_thickness=start * 1e-6, target_thickness=target * 1e-6, limits=tuple(limits),
        edge_exclusion=exclusion * 1e-6, hold="free", rule=DecisionRule(kind=rule),
        start_ttv=None if start_ttv is None else start_ttv * 1e-6, start_damage=damage * 1e-6,
    )  # fmt: skip
    return order, Gauge(gauge_id="G", name="g", limit=limit * 1e-6, local=None if local is None else local * 1e-6)


@pytest.mark.parametrize(("row", "answer", "binding"), TABLE)
def test_the_answer_is_that_of_the_hand_calculation(row, answer, binding):
    """Answer and binding limit of each order in the table, worked in the comment above it."""
    order, gauge = asked(row)
    found = feasibility(order, LIBRARY, gauge=gauge)

    assert (found.answer, found.binding) == (answer, binding)
    assert len(found.lines) == 3


@pytest.mark.parametrize(
    ("row", "least"),
    [
        (("LiTaO3", 500, 100, 2, 2, 2000, 1, None, 0, 1, 0.3, G), 11.533),
        (("Si", 525, 200, 5, 5, 2000, 1, None, 0, 1, 0.3, G), 7.962),
        (("Si", 525, 200, 5, 5, 2000, None, None, 0, 0.5, 0.3, G), 4.832),  # 3.5 + 1.332
        (("GaAs", 625, 150, 5, 5, 2000, 1, None, 0, 1, 0.3, G), 9.087),
        (("InP", 350, 120, 4, 4, 2000, 1, None, 0, 1, 0.3, G), 9.837),
    ],
)
def test_the_least_stock_is_that_of_the_hand_calculation(row, least):
    """To a nanometre."""
    order, gauge = asked(row)
    check = next(c for c in feasibility(order, LIBRARY, gauge=gauge).checks if c.limit == "stock")

    assert check.needs * 1e6 == pytest.approx(least, abs=1e-3)


def test_three_lines_name_answer_limit_and_remedy():
    """What a person reads when it cannot be done."""
    order, gauge = asked(("LiTaO3", 500, 490, 2, 2, 2000, 1, None, 0, 1, 0.3, G))

    first, second, third = feasibility(order, LIBRARY, gauge=gauge).lines

    assert first == "Cannot be done: stock does not suffice."
    assert "10.0 µm of stock" in second.replace("\u00a0", " ")
    assert "488.5 µm" in third.replace("\u00a0", " ")
