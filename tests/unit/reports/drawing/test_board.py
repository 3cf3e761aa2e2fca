"""The drawing of a day: what a place has at once must not hide one another."""

import xml.etree.ElementTree as ET

from lapwright.reports.drawing.board import BoardBar, BoardDay, BoardRow, board_day

SVG = "{http://www.w3.org/2000/svg}"


def boxes(*spans):
    """Of loads with these hours on one place: top and foot of each as drawn."""
    bars = tuple(
        BoardBar(task_id=str(i), labels=(str(i),), said=f"load {i}", begin=a * 3600.0, start=a * 3600.0, end=b * 3600.0,
                 href=f"/{i}")
        for i, (a, b) in enumerate(spans)
    )  # fmt: skip
    rows = (BoardRow(row_id="B1", name="B1", bars=bars), BoardRow(row_id="L1", name="L1", bars=()))
    day = BoardDay(title="d", start=0.0, end=36000.0, next=86400.0, now=None, marks=(), rows=rows)
    found = {}
    for link in ET.fromstring(board_day(day)).iter(f"{SVG}a"):
        box = next(r for r in link.iter(f"{SVG}rect") if r.get("class") == "load")
        top = float(box.get("y"))
        found[int(link.get("data-task"))] = (top, top + float(box.get("height")))
    return [found[i] for i in range(len(spans))]


def test_loads_at_once_lie_one_below_the_other():
    """Two wafers on one bonder from 1 to 2, a third from 3 to 4: the two share the height, the third has all of it."""
    one, other, alone = boxes((1, 2), (1, 2), (3, 4))
    assert one[1] <= other[0] or other[1] <= one[0]
    assert alone[1] - alone[0] > 1.5 * (one[1] - one[0])


def test_loads_one_after_the_other_lie_in_one_line():
    """From 1 to 2 and from 2 to 3: nothing is at once, so nothing is moved."""
    assert len(set(boxes((1, 2), (2, 3)))) == 1


def test_what_is_free_again_takes_the_first_lane():
    """From 1 to 4, from 1 to 2, from 2 to 3: two lanes are enough, and the third lies where the second lay."""
    long, first, then = boxes((1, 4), (1, 2), (2, 3))
    assert first == then
    assert first != long
