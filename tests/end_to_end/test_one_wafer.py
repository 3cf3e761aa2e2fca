"""The story of one wafer, from the box to the certificate: by use cases and by commands, with equal results."""

import json

import pytest

from lapwright.app import certificates, orders, routes, runs, tasks
from lapwright.cli.main import exit_status
from lapwright.formats.order_toml import order_text
from lapwright.model.clean_check import CLEAN_ITEMS
from lapwright.testing.lot import BOND_THICKNESS, CARRIER_THICKNESS, ORDER, flat
from lapwright.testing.records import empty_records

WAFER = "AP-1-01"
UNDER = CARRIER_THICKNESS + BOND_THICKNESS


@pytest.fixture
def told(capsys, started_records):
    """A command run on the started records; the result it gives as JSON."""

    def tell(*arguments):
        status = exit_status([*map(str, arguments), "--data", str(started_records.data), "--json"])
        answer = json.loads(capsys.readouterr().out)
        assert status == 0, answer
        return answer["result"]

    return tell


def verbs(now):
    """What waits for a hand."""
    return [task.verb for task in waiting(now)]


def waiting(now):
    """The tasks of the wafer, those of the gauge left out."""
    return [task for task in tasks.waiting_tasks(now=now) if task.wafer_id == WAFER]


def test_hands_names_each_step_of_the_story(lot):
    """What waits follows from the records, from reading it in to the certificate."""
    seen = verbs(lot.now)
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    seen += verbs(lot.now)
    bond = lot.bond(WAFER, flat(500e-6))
    seen += verbs(lot.now)
    lot.route()
    seen += [verb.split(":")[0] for verb in verbs(lot.now)]
    lot.work(WAFER)
    seen += verbs(lot.now)
    lot.finish(WAFER, bond.bond_id, flat(100e-6))
    seen += verbs(lot.now)
    certificates.issue_certificate("AP-1", **lot.why())

    assert seen == [
        "read it in",
        "bond it to a carrier",
        "choose a route for the order",
        "Lap, first part",
        "read it on the carrier",
        "issue the certificate",
    ]
    assert verbs(lot.now) == []
    assert orders.show_wafer(WAFER).wafer.state == "certified"


def test_the_preset_comes_from_the_wafers_own_map(lot):
    """A wafer 3 µm thicker than the route was planned for is cut 3 µm more, to the same height."""
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    lot.route()
    thicker = 503e-6
    lot.read(WAFER, "wafer", "incoming", flat(thicker))
    lot.bond(WAFER, flat(thicker))
    planned = next(stage for stage in routes.chosen_route("AP-1").plan.stages if stage.removal > 0.0)

    ahead = runs.next_stage(WAFER, jig_id="J1")

    assert ahead.removal - planned.removal == pytest.approx(3e-6, abs=0.1e-6)
    assert ahead.thickness_after == planned.thickness_after
    assert sum(length for _, length in ahead.contains) == pytest.approx(ahead.preset, abs=1e-12)


@pytest.mark.slow
@pytest.mark.timeout(240)
def test_use_cases_and_commands_tell_the_same(lot, told, tmp_path, started_records):
    """One wafer played by functions and again by commands: the same state, bond, presets, verdicts and certificate."""
    by_functions = _by_functions(lot)
    empty_records(started_records)
    by_commands = _by_commands(told, tmp_path)

    assert by_commands == by_functions


# ----------------------------------------------------------------------------------------------------------------------


def _summary(story):
    """What both ways must agree on."""
    bond = story.bonds[-1]
    return {
        "state": story.wafer.state,
        "bond": (round(bond.numbers.mean * 1e9), bond.verdict.advice, bond.decision),
        "stages": [(one.stage.name, one.state) for one in story.stages],
        "presets": [None if one.preset is None else round(one.preset * 1e9) for one in story.runs],
        "verdicts": [
            (one.verdict.limit.quantity, round(one.verdict.value * 1e12), one.verdict.outcome) for one in story.verdicts
        ],
        "documents": [one.kind for one in orders.show_order("AP-1").documents],
    }


def _by_functions(lot):
    for piece, subject, moment, thickness in (
        ("C1", "carrier", "carrier", CARRIER_THICKNESS), (WAFER, "wafer", "incoming", 500e-6)
    ):  # fmt: skip
        lot.read(piece, subject, moment, flat(thickness), spread=0.0)
    lot.route()
    bond = lot.bond(WAFER, flat(500e-6), spread=0.0)
    lot.work(WAFER, spread=0.0)
    lot.finish(WAFER, bond.bond_id, flat(100e-6), spread=0.0)
    certificates.issue_certificate("AP-1", **lot.why())
    return _summary(orders.show_wafer(WAFER))


def _by_commands(told, folder):
    order = folder / "order.toml"
    order.write_text(order_text(ORDER), encoding="utf-8")
    _furnish(told)
    told("order", "new", order)
    _import(told, folder, "C1", "carrier", CARRIER_THICKNESS)
    _import(told, folder, WAFER, "incoming", 500e-6)
    told("job", "route", "AP-1")
    told("job", "bond", WAFER, "C1", "--adhesive", "mounting-wax")
    _import(told, folder, WAFER, "stack", UNDER + 500e-6)
    advice = told("job", "judge-bond", WAFER)["advice"]
    told("job", "decide-bond", WAFER, advice, "--reason", "as advised")
    while (ahead := told("job", "next", WAFER, "--jig", "J1")["next"]) is not None:
        _do(told, folder, ahead)
    _import(told, folder, WAFER, "on_carrier", UNDER + 100e-6)
    told("job", "debond", WAFER, "--method", "solvent overnight")
    _import(told, folder, WAFER, "final", 100e-6)
    finding = ("0.6 nm", "--method", "profiler", "--expanded-uncertainty-nm", "0.2")
    told("job", "finding", WAFER, "roughness_ra", *finding)
    told("job", "judge", WAFER)
    told("certificate", "AP-1")
    return _summary(orders.show_wafer(WAFER))


def _furnish(told):
    gauge = ("--gauge-local-um", 0.1, "--gauge-resolution-um", 0.1, "--gauge-repeatability-um", 0.1)
    told("shelf", "gauge", "G1", "--limit-um", 0.5, *gauge)
    told("shelf", "carrier", "C1", "--material", "glass", "--diameter-mm", 76.2, "--thickness-mm", 6)
    azimuths = ("--adjuster-azimuths-deg", "90,210,330")
    told("shelf", "jig", "J1", "--adjuster-radius-mm", 70, *azimuths, "--um-per-division", 2)
    for name, kind, plate in (("L1", "lap", "cast-iron"), ("L2", "lap", "glass"), ("P1", "polish", "pad-polyurethane")):
        told("shelf", "station", name, "--kind", kind, "--plate", plate)


def _do(told, folder, ahead):
    """One stage: a cleaning, a reading, or a run on the station that bears its plate."""
    stage = ahead["stage"]
    if ahead["ends_with_look"]:
        items = [part for item in CLEAN_ITEMS for part in ("--checked", item)]
        told("job", "look", WAFER, "clean", *items)
    elif stage["kind"] == "clean":
        told("job", "done", WAFER)
    elif stage["kind"] == "measure":
        _import(told, folder, WAFER, "after_stage", UNDER + ahead["thickness_now_um"] * 1e-6)
    else:
        station = {"cast-iron": "L1", "glass": "L2"}.get(stage["plate"], "P1")
        setup = ("--kind", stage["kind"], "--plate", stage["plate"], "--abrasive", stage["abrasive"])
        told("shelf", "station", station, *setup)
        told("job", "zero", WAFER, station, "0.0", "0.1", "0.2", "--jig", "J1")
        told("job", "start", WAFER, station, "--jig", "J1")
        told("job", "finish", WAFER, "--gauge-removal", f"{ahead['removal_um']:.3f} µm")


def _import(told, folder, piece, moment, thickness):
    """A file of nine sites, read twice, as the gauge would write it."""
    from lapwright.metrology.site_patterns import named_pattern

    pattern = named_pattern("nine", ORDER.outline, edge_exclusion=ORDER.edge_exclusion)
    rows = ["wafer,site,x_mm,y_mm,thickness_um,repeat"]
    for repeat in (1,) if moment == "after_stage" else (1, 2):
        for label, x, y in zip(pattern.labels, pattern.x.tolist(), pattern.y.tolist(), strict=True):
            rows.append(f"{piece},{label},{x * 1e3!r},{y * 1e3!r},{thickness * 1e6:.2f},{repeat}")
    _import.count = getattr(_import, "count", 0) + 1
    file = folder / f"{_import.count}.csv"
    file.write_text("\n".join(rows) + "\n", encoding="utf-8")
    held = ("--hold", "free", "--temperature-c", "21.85", "--soaked")
    told("import", file, "--moment", moment, "--gauge", "G1", *held)
