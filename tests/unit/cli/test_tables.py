"""What commands print for a person: words and units, never the inside of a dictionary."""

from lapwright.cli import orders
from lapwright.cli.tables import print_fields

RESULT = {
    "wafer": "AP-1-01",
    "next": {"removal_um": 12.25, "plate_speed_rpm": -40.0, "zero": None, "voids_zero": ["plate changed", "foot changed"]},
    "stages": [{"name": "coarse", "done": True}],
    "recorded": {"by": "mw", "at": "2026-11-25T08:01:00Z", "reason": "as usual"},
}  # fmt: skip


def test_a_result_is_printed_in_words_with_units(capsys):
    """Nested values are set in; a signature is one line; nothing is a brace or a quoted name."""
    print_fields(RESULT)
    assert capsys.readouterr().out.splitlines() == [
        "wafer: AP-1-01",
        "next:",
        "  removal: 12.25 µm",
        "  plate speed: −40 rpm",
        "  zero: –",
        "  voids zero: plate changed, foot changed",
        "stages:",
        "  1.",
        "    name: coarse",
        "    done: yes",
        "recorded: mw, 2026-11-25 08:01 UTC (as usual)",
    ]


def test_of_two_verdicts_on_a_quantity_the_later_one_stands(capsys, monkeypatch):
    """A wafer judged again shows what it was judged last."""
    wafer = {"wafer": "W", "spare": False, "state": "judged", "carrier": None, "stages": []}
    verdicts = [{"quantity": "ttv", "outcome": "cannot_be_decided"}, {"quantity": "ttv", "outcome": "conforms"}]
    story = {
        "order": "AP-1", "customer": "Fennbach Filters", "material": "Si", "target_thickness_um": 100.0, "route": None,
        "wafers": [{**wafer, "verdicts": verdicts}], "documents": [],
    }  # fmt: skip
    monkeypatch.setattr("lapwright.cli.orders.open_records", lambda _data: None)
    monkeypatch.setattr("lapwright.app.orders.order_brief", lambda _order: None)
    monkeypatch.setattr("lapwright.formats.job_results.order_brief_dict", lambda _brief: story)
    orders.order_show("AP-1")
    said = capsys.readouterr().out
    assert "ttv: conforms" in said
    assert "cannot be decided" not in said
