"""Judging a wafer, and what the certificate says of it."""

import json

import pytest

from lapwright.app import certificates, orders, verdicts
from lapwright.errors import BadInput, Conflict, RecordError, UnitError
from lapwright.model.request import FindingRequest
from lapwright.testing.lot import CARRIER_THICKNESS, flat

WAFER = "AP-1-01"
ROUGHNESS = FindingRequest(wafer_id=WAFER, quantity="roughness_ra", text="0.6 nm", method="profiler")


@pytest.fixture
def worked(lot):
    """Carrier and wafer read in, a route chosen."""
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    lot.route()
    return lot


def finish(lot, wafer):
    """The rest of the job, ending with this wafer."""
    bond = lot.bond(WAFER, flat(500e-6))
    lot.work(WAFER)
    return {one.verdict.limit.quantity: one for one in lot.finish(WAFER, bond.bond_id, wafer)}


def test_a_good_wafer_conforms_to_every_limit(worked):
    """100.0 µm within 98 to 102, flat, 0.6 nm of 1 nm."""
    judged = finish(worked, flat(100e-6))
    assert {name: one.verdict.outcome for name, one in judged.items()} == {
        "thickness": "conforms",
        "ttv": "conforms",
        "roughness_ra": "conforms",
    }
    assert judged["thickness"].verdict.value == pytest.approx(100e-6, abs=0.1e-6)
    assert judged["roughness_ra"].finding_id is not None


def test_near_a_limit_it_cannot_be_decided_and_far_outside_it_does_not_conform(worked):
    """101.9 µm with ± 0.6 µm is too near 102; a wedge of 5 µm is outside a TTV of 2."""
    judged = finish(worked, lambda x, _y: 101.9e-6 + 5e-6 / 0.0508 * x)
    assert judged["thickness"].verdict.outcome == "cannot_be_decided"
    assert judged["ttv"].verdict.outcome == "does_not_conform"


def test_what_must_be_measured_first_is_named(worked):
    """No roughness, no verdict."""
    from lapwright.app import bonding

    bond = worked.bond(WAFER, flat(500e-6))
    worked.work(WAFER)
    bonding.record_debond(bond.bond_id, "solvent", **worked.why())
    worked.read(WAFER, "wafer", "final", flat(100e-6))
    with pytest.raises(Conflict, match="not measured yet: roughness ra"):
        verdicts.judge_wafer(WAFER, **worked.why())


def test_a_finding_needs_its_unit_and_its_method(lot):
    """A bare number is refused, and a value whose origin nobody knows, too."""
    from dataclasses import replace

    with pytest.raises(UnitError):
        verdicts.record_finding(replace(ROUGHNESS, text="0.6"), **lot.why())
    with pytest.raises(BadInput) as caught:
        verdicts.record_finding(replace(ROUGHNESS, method=" ", quantity="ttv", expanded_uncertainty=-1e-9), **lot.why())
    assert [fault.field for fault in caught.value.faults] == ["quantity", "method", "expanded_uncertainty"]


def test_a_certificate_is_kept_and_its_alteration_is_found(worked):
    """Five files; a byte changed on the disk and the file is not handed out any more."""
    finish(worked, flat(100e-6))
    kept = certificates.issue_certificate("AP-1", **worked.why())
    assert [one.kind.removeprefix("certificate_") for one in kept] == ["pdf", "html", "csv", "json", "qif"]
    path = certificates.document_path(kept[3].document_id)
    data = json.loads(path.read_text(encoding="utf-8"))
    assert WAFER in json.dumps(data)
    path.write_bytes(path.read_bytes() + b" ")
    with pytest.raises(RecordError, match="SHA-256 differs"):
        certificates.document_path(kept[3].document_id)


def test_a_damaged_file_is_put_right_by_keeping_it_again(lot):
    """The same bytes sent once more lie whole under their digest again."""
    kept = certificates.store_document("AP-1", "note.txt", b"words", **lot.why())
    certificates.document_path(kept.document_id).write_bytes(b"wordz")

    again = certificates.store_document("AP-1", "note.txt", b"words", **lot.why())

    assert certificates.document_path(again.document_id).read_bytes() == b"words"
    assert certificates.document_path(kept.document_id).read_bytes() == b"words"


def test_a_second_certificate_is_a_revision(worked):
    """Its number counts on."""
    finish(worked, flat(100e-6))
    first = certificates.issue_certificate("AP-1", **worked.why())
    second = certificates.issue_certificate("AP-1", **worked.why())
    assert (first[0].name, second[0].name) == ("AP-1-C1.pdf", "AP-1-C2.pdf")


def test_without_a_judged_wafer_there_is_no_certificate(lot):
    """There is nothing to say."""
    with pytest.raises(Conflict, match="No wafer"):
        certificates.collect("AP-1", at=lot.now)


def test_a_rejected_wafer_stands_on_the_certificate_with_its_reason(worked):
    """It is not delivered, and the customer reads why."""
    from dataclasses import replace

    from lapwright.testing.lot import ORDER

    order = replace(ORDER, order_id="AP-2", spares=1)
    orders.receive_order(order, wafer_ids=("X1", "X2"), **worked.why())
    orders.reject_wafer("X2", **worked.why("broke at the edge"))
    worked.read("X1", "wafer", "incoming", flat(500e-6))
    worked.route("AP-2")
    bond = worked.bond("X1", flat(500e-6))
    worked.work("X1")
    worked.finish("X1", bond.bond_id, flat(100e-6))
    remarks = certificates.collect("AP-2", at=worked.now).remarks
    assert remarks == ("Wafer X2 is not delivered: broke at the edge",)


@pytest.mark.parametrize("name", ["../../etc/passwd", "a/b\\c.png", "..", "x" * 400, "ü ß.png"])
def test_a_kept_file_stays_in_its_folder(lot, name):
    """Whatever the file was called, it lies under its SHA-256 in the data folder."""
    from lapwright.app.documents import document_path, store_document
    from lapwright.app.wiring import current_settings

    kept = store_document("AP-1", name, b"abc", **lot.why())
    path = document_path(kept.document_id).resolve()
    assert path.is_relative_to(current_settings().data.resolve() / "documents")
    assert "/" not in kept.name
    assert len(kept.name) <= 150
