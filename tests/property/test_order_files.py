"""Laws of order files: what is written reads back equal, and no content makes the reader fail in another way."""

import contextlib
import tomllib

from hypothesis import given
from hypothesis import strategies as st

from lapwright.errors import LapwrightError
from lapwright.formats.order_toml import QUANTITIES, order_from_dict, order_text
from lapwright.model.order import DecisionRule, Limit, Order
from lapwright.model.wafer import Polygon, Rectangle, Round

WORDS = st.text(st.characters(exclude_categories=("C",)), min_size=1, max_size=12).map(str.strip).filter(bool)
MICROMETRES = st.integers(1, 10**7).map(lambda n: n / 1000 / 1e6)
MILLIMETRES = st.integers(1, 300_000).map(lambda n: n / 1000 / 1e3)
OUTLINES = st.one_of(
    MILLIMETRES.map(lambda d: Round(diameter=d)),
    MILLIMETRES.map(lambda d: Round(diameter=d, mark="notch")),
    st.builds(lambda d: Round(diameter=d + 1e-3, mark="flat", flat_length=d), MILLIMETRES).filter(
        lambda one: round(one.diameter * 1e3, 3) / 1e3 == one.diameter
    ),
    st.builds(Rectangle, width=MILLIMETRES, height=MILLIMETRES),
    st.lists(st.tuples(MILLIMETRES, MILLIMETRES), min_size=3, max_size=6).map(lambda c: Polygon(corners=tuple(c))),
)


@st.composite
def orders(draw):
    """An order with any outline, limits and rule."""
    others = draw(st.lists(st.sampled_from(QUANTITIES[1:]), unique=True, max_size=4))
    lower = draw(MICROMETRES)
    return Order(
        order_id=draw(WORDS), customer=draw(WORDS), material=draw(WORDS), outline=draw(OUTLINES),
        quantity=draw(st.integers(1, 500)), spares=draw(st.integers(0, 9)), start_thickness=draw(MICROMETRES),
        target_thickness=draw(MICROMETRES), start_ttv=draw(st.none() | MICROMETRES), start_damage=draw(MICROMETRES),
        limits=(Limit(quantity="thickness", lower=lower), *(Limit(quantity=one, upper=draw(MICROMETRES)) for one in others)),
        edge_exclusion=draw(MILLIMETRES), hold=draw(st.sampled_from(["free", "clamped"])),
        rule=DecisionRule(kind=draw(st.sampled_from(["simple", "guarded"])), false_accept=draw(st.integers(1, 49)) / 100),
        due=draw(st.none() | st.dates()), orientation=draw(WORDS | st.just("")), notes=draw(WORDS | st.just("")),
        value_per_wafer=draw(st.none() | st.floats(0, 1e6)),
    )  # fmt: skip


@given(orders())
def test_a_written_order_reads_back_equal(order):
    """To the last bit, with every field."""
    assert order_from_dict(tomllib.loads(order_text(order)), name="o") == order


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5) | st.dates(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)
KEYS = st.sampled_from(
    ["order", "customer", "quantity", "piece", "incoming", "finished", "judging", "limit", "due", "spares", "notes"]
) | st.text(max_size=8)


@given(st.dictionaries(KEYS, VALUES, max_size=8))
def test_any_content_is_an_order_or_refused_by_an_error_of_ours(content):
    """A list where a table belongs, a text where a number belongs, anything."""
    with contextlib.suppress(LapwrightError):
        order_from_dict(content, name="o")


INSIDE = st.dictionaries(
    st.sampled_from(["shape", "diameter_mm", "corners_mm", "width_mm", "material", "thickness_um", "quantity", "lower_um", "rule"]),
    VALUES | st.sampled_from(["round", "polygon", "rectangle", "guarded", "simple", "flat", "thickness"]),
)  # fmt: skip


@given(INSIDE, INSIDE, st.lists(INSIDE, max_size=2))
def test_any_table_is_read_or_refused_by_an_error_of_ours(piece, judging, limits):
    """The tables themselves may hold anything, too."""
    with contextlib.suppress(LapwrightError):
        order_from_dict(
            {"piece": piece, "incoming": piece, "finished": judging, "judging": judging, "limit": limits}, name="o"
        )
