"""The certificate as results for other programs says what the certificate says."""

import json
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal

from lapwright.app import certificates
from lapwright.app.inspections import inspection_of
from lapwright.formats.qif import inspection_from_bytes, qif_bytes, read_qif
from lapwright.reports.certificate import certificate_json
from lapwright.testing.certificates import invented_certificate
from lapwright.testing.lot import CARRIER_THICKNESS, flat

AT = datetime(2026, 3, 16, 15, 0, tzinfo=UTC)
WAFER = "AP-1-01"


def results(**about):
    """The invented certificate, written as QIF and read back."""
    inspection = inspection_of(invented_certificate(**about), prepared=AT, prepared_by="R. Sohl")
    return inspection_from_bytes(qif_bytes(inspection), name="c.qif")


def test_every_number_is_that_of_the_certificate_digit_for_digit():
    """Limits, values, uncertainties, factors, outcomes and gauges of all wafers, against the JSON file."""
    told = json.loads(certificate_json(invented_certificate()), parse_float=Decimal, parse_int=Decimal)
    for wafer, piece in zip(told["wafers"], results().pieces, strict=True):
        assert (wafer["wafer_id"], wafer["outcome"]) == (piece.piece_id, piece.outcome)
        for limit, one in zip(wafer["limits"], piece.quantities, strict=True):
            expected = {name: limit[f"{name}_{one.unit}"] for name in ("lower", "upper", "expanded_uncertainty")}
            expected |= {"value": limit[f"measured_{one.unit}"], "device_id": limit["gauge_id"]}
            expected |= {name: limit[name] for name in ("quantity", "coverage_factor", "outcome")}
            assert expected == {name: getattr(one, name) for name in expected}


def test_the_standard_uncertainty_is_the_expanded_one_by_its_factor():
    """U / k with one digit more (JCGM 100:2008, 6.2.1): 0.29 / 2.01; unknown where the factor is."""
    thickness, _, roughness = results().pieces[0].quantities
    assert thickness.standard_uncertainty == Decimal("0.144")
    assert roughness.standard_uncertainty is None


def test_doubt_is_told_as_doubt():
    """The second wafer's TTV cannot be decided, and so cannot the wafer."""
    piece = results().pieces[1]
    assert (piece.outcome, piece.quantities[1].outcome) == ("cannot_be_decided", "cannot_be_decided")


def test_a_gauge_that_only_a_verdict_names_is_listed_without_a_calibration():
    """An earlier set was judged, another was read later: the certificate lists the later gauge alone."""
    data = invented_certificate()
    first, *rest = data.wafers
    judged = replace(first.limits[0], gauge_id="G9")
    data = replace(data, wafers=(replace(first, limits=(judged, *first.limits[1:])), *rest))
    found = inspection_from_bytes(qif_bytes(inspection_of(data, prepared=AT, prepared_by="")), name="c.qif")
    assert [one.device_id for one in found.devices] == ["G1", "G2", "G9"]
    assert (found.pieces[0].quantities[0].device_id, found.devices[2].certificate) == ("G9", None)


def test_it_says_whose_for_whom_when_and_that_it_is_invented():
    """The header of the certificate; the gauge with its calibration; the time of the final set."""
    found = results()
    assert (found.report, found.laboratory, found.customer) == ("AP-2407-C1", "Auwald Photonics", "Fennbach Filters")
    assert (found.customer_reference, found.prepared, found.prepared_by) == ("FF 88/1", AT, "R. Sohl")
    assert found.simulated
    assert found.devices[1].certificate == "K-G2-26031"
    assert found.pieces[0].quantities[0].measured == datetime(2026, 3, 15, 9, 41, tzinfo=UTC)
    assert found.pieces[0].quantities[2].measured is None


def test_an_issued_certificate_is_kept_as_qif_too(lot):
    """The kept file reads back and names the wafer, its limits and the gauge."""
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    lot.route()
    bond = lot.bond(WAFER, flat(500e-6))
    lot.work(WAFER)
    lot.finish(WAFER, bond.bond_id, flat(100e-6))
    kept = {one.kind: one for one in certificates.issue_certificate("AP-1", **lot.why())}["certificate_qif"]
    found = read_qif(certificates.document_path(kept.document_id))
    assert kept.name == "AP-1-C1.qif"
    assert found.pieces[0].piece_id == WAFER
    judged = {one.quantity: one for one in found.pieces[0].quantities}
    assert set(judged) == {"thickness", "ttv", "roughness_ra"}
    assert (judged["thickness"].target, judged["thickness"].outcome) == (Decimal(100), "conforms")
    assert {one.device_id for one in found.devices} >= {judged["thickness"].device_id}
