"""Measured faces kept with a wafer: files, settings, numbers, and what is judged by them."""

import hashlib
import json
import math
from dataclasses import replace

import pytest

from lapwright.app import certificates, orders, surface_records, surface_tray, verdicts
from lapwright.app.documents import document_path, show_document
from lapwright.errors import BadInput, FileFormatError, FringesRefused, NotFound
from lapwright.model.surface_record import FringeSettings, ProfileSettings, SampleMask, SurfaceRequest
from lapwright.model.wafer import Round
from lapwright.testing import faces
from lapwright.testing.lot import CARRIER_THICKNESS, ORDER, flat

WAFER = "AP-1-01"
SETTINGS = FringeSettings(outline=Round(diameter=faces.DIAMETER), fringe_height=faces.FRINGE)
KNOWN = ProfileSettings(instrument_kind="optical", noise=0.1e-9, height_uncertainty=0.02)


def asked(*contents, moment="final", name="face.png"):
    """A request to record files of the wafer."""
    return SurfaceRequest(
        wafer_id=WAFER, moment=moment, files=tuple((name, one) for one in contents), instrument="bench set-up"
    )


def recorded(lot, settings=SETTINGS, **options):
    """The dome of 0.4 µm recorded."""
    return surface_records.record_fringes(asked(faces.fringe_file(), **options), settings, **lot.why("looked at"))


def finding_of(surface):
    """The finding that rests on a face."""
    found = orders.show_wafer(WAFER).findings
    return next(one for one in found if one.finding_id in surface.finding_ids)


def test_a_face_is_kept_with_its_file_its_settings_and_its_numbers(lot):
    """The file lies in the data folder under its SHA-256; a dome of 0.400 µm has that power and peak to valley."""
    surface = recorded(lot)
    kept = show_document(surface.document_ids[0])
    assert hashlib.sha256(faces.fringe_file()).hexdigest() == kept.sha256
    assert surface.settings == SETTINGS
    assert surface.numbers["pv"] == pytest.approx(0.4e-6, abs=0.01e-6)
    assert surface.numbers["power"] == pytest.approx(0.4e-6, abs=0.01e-6)
    assert (surface.signature.by, surface.signature.reason) == ("local", "looked at")
    assert orders.show_wafer(WAFER).surfaces == (surface,)


def test_a_face_read_again_gives_the_recorded_numbers(lot):
    """Files and settings are all it takes."""
    surface = surface_records.show_surface(recorded(lot).surface_id)
    assert dict(surface.numbers) == dict(surface_records.read_again(surface).numbers)


def test_which_way_is_up_stays_open_until_something_tells(lot):
    """Without a direction the power of a dished face is a magnitude; with one it has its sign."""
    dished = asked(faces.fringe_file(height=-0.4e-6))
    blind = surface_records.record_fringes(dished, SETTINGS, **lot.why())
    assert blind.sign_ambiguous
    assert blind.numbers["power"] == pytest.approx(0.4e-6, abs=0.01e-6)
    told = FringeSettings(outline=SETTINGS.outline, fringe_height=faces.FRINGE, tilt_opens_toward=0.0)
    seeing = surface_records.record_fringes(dished, told, **lot.why())
    assert not seeing.sign_ambiguous
    assert seeing.numbers["power"] == pytest.approx(-0.4e-6, abs=0.01e-6)
    words = finding_of(blind).method
    assert "which way is up is not known" in words
    assert not {"domed", "dished"} & set(words.replace(";", " ").split())


def test_five_steps_and_a_drawn_circle_are_read(lot):
    """Five pictures give one face; half the radius of a dome of 0.4 µm holds a quarter of its height."""
    request = asked(*faces.step_files())
    circle = SampleMask(centre=(159.5, 159.5), radius=72.0)
    drawn = FringeSettings(outline=Round(diameter=0.0229), fringe_height=faces.FRINGE, mask=circle, step=math.pi / 2.0)
    surface = surface_records.record_fringes(request, drawn, **lot.why())
    assert len(surface.document_ids) == 5
    assert surface.numbers["power"] == pytest.approx(0.1e-6, abs=0.01e-6)


def test_the_edge_exclusion_leaves_the_rim_out(lot):
    """A dome of 0.4 µm less 5.08 mm of its rim of 25.4 mm: the power over 80 % of the diameter is 0.64 of it."""
    inner = FringeSettings(outline=SETTINGS.outline, fringe_height=faces.FRINGE, edge_exclusion=5.08e-3)
    surface = recorded(lot, inner)
    assert surface.numbers["power"] == pytest.approx(0.256e-6, abs=0.01e-6)


def test_flatness_has_an_uncertainty_only_when_all_it_needs_is_stated(lot):
    """Peak to valley, reference ± 30 nm: 30/√3 nm and √2 · 500/40 nm combine to 25 nm, times 1.96 is 48 nm."""
    assert finding_of(recorded(lot)).expanded_uncertainty is None
    stated = FringeSettings(
        outline=SETTINGS.outline, fringe_height=faces.FRINGE, reference_flatness=30e-9, scale_reach=0.001
    )
    assert finding_of(recorded(lot, stated)).expanded_uncertainty == pytest.approx(48.5e-9, abs=0.5e-9)


@pytest.mark.parametrize("moment", ["after_stage", "on_carrier"])
def test_a_face_in_the_middle_of_the_work_is_not_judged(lot, moment):
    """The order judges the free wafer; the face is kept and says why it is no finding."""
    surface = recorded(lot, moment=moment)
    assert surface.finding_ids == ()
    assert surface.not_judged


def test_a_picture_that_is_too_dark_is_refused_and_not_recorded(lot):
    """Refused with the reason; nothing is kept."""
    with pytest.raises(FringesRefused):
        surface_records.record_fringes(asked(faces.dark_file()), SETTINGS, **lot.why())
    story = orders.show_wafer(WAFER)
    assert (story.surfaces, story.documents) == ((), ())


def test_a_finish_is_kept_with_its_filter_and_length(lot):
    """Ra with the noise taken out; the finding names filter, cutoff and length."""
    surface = surface_records.record_profile(asked(faces.profile_file(), name="p.csv"), KNOWN, **lot.why())
    finding = finding_of(surface)
    assert finding.quantity == "roughness_ra"
    assert finding.value == pytest.approx(surface.numbers["ra_without_noise"], rel=1e-5)
    assert finding.expanded_uncertainty == surface.numbers["ra_expanded_uncertainty"]
    assert "Gaussian filter, cutoff 0.08 mm, short cutoff 2.5 µm, 5 sections, 0.4 mm evaluated" in finding.method


def test_a_finish_of_an_unknown_instrument_has_no_uncertainty(lot):
    """Noise and height scale not stated: the value stands, its uncertainty is unknown, not small."""
    surface = surface_records.record_profile(asked(faces.profile_file(), name="p.csv"), ProfileSettings(), **lot.why())
    assert finding_of(surface).expanded_uncertainty is None


def test_damage_is_refused_without_a_ratio_for_material_and_process(lot):
    """Lithium tantalate lapped with loose grain: the library holds none, so the sentence says what is missing."""
    lapped = ProfileSettings(way="lap_loose", instrument_kind="optical")
    surface = surface_records.record_profile(asked(faces.profile_file(), name="p.csv"), lapped, **lot.why())
    reading = surface_records.read_again(surface)
    assert reading.damage is None
    assert "No ratio of damage to roughness" in reading.no_damage


def test_verdict_and_certificate_rest_on_the_measured_face(lot):
    """The finding of the profile is judged, and the certificate says by which filter and length."""
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6))
    lot.route()
    bond = lot.bond(WAFER, flat(500e-6))
    lot.work(WAFER)
    lot.finish(WAFER, bond.bond_id, flat(100e-6))
    surface = surface_records.record_profile(asked(faces.profile_file(), name="p.csv"), KNOWN, **lot.why())
    judged = {one.verdict.limit.quantity: one for one in verdicts.judge_wafer(WAFER, **lot.why())}
    assert judged["roughness_ra"].finding_id == surface.finding_ids[0]
    assert judged["roughness_ra"].verdict.value == pytest.approx(surface.numbers["ra_without_noise"], rel=1e-5)
    files = {one.kind: one for one in certificates.issue_certificate("AP-1", **lot.why())}
    told = json.loads(document_path(files["certificate_json"].document_id).read_text())
    assert any("cutoff 0.08 mm" in line for line in told["wafers"][0]["remarks"])


@pytest.mark.parametrize(
    ("content", "fault"),
    [
        (b"<html>", FileFormatError),
        (b"\x89PNG\r\n\x1a\n" + b"\x00" * 40, FileFormatError),
        (b"PK\x03\x04" + b"\x00" * 40, FileFormatError),
    ],
)
def test_what_is_no_picture_is_refused(lot, content, fault):
    """A page, a cut picture, a packed file: one sentence each."""
    with pytest.raises(fault):
        surface_records.record_fringes(asked(content), SETTINGS, **lot.why())


def test_an_unknown_wafer_is_refused(lot):
    """Nothing is kept for a wafer that does not exist."""
    request = SurfaceRequest(wafer_id="AP-9-01", moment="final", files=(("a.csv", faces.profile_file()),))
    with pytest.raises(NotFound):
        surface_records.record_profile(request, KNOWN, **lot.why())


def test_a_stage_of_another_wafer_is_refused(lot):
    """A face belongs to a stage of its own wafer."""
    request = SurfaceRequest(wafer_id=WAFER, moment="final", stage_id=999, files=(("a.csv", faces.profile_file()),))
    with pytest.raises(NotFound):
        surface_records.record_profile(request, KNOWN, **lot.why())
    assert orders.show_wafer(WAFER).documents == ()


@pytest.mark.usefixtures("lot")
def test_the_tray_gives_back_what_was_put_on_it():
    """By its mark, a week long; nothing else of the disk can be asked for."""
    mark = surface_tray.put_on_tray("a.png", b"abc", now_s=0.0)
    assert surface_tray.take_from_tray(mark) == b"abc"
    for other in ("../lapwright.sqlite3", "", "f" * 64):
        with pytest.raises(NotFound):
            surface_tray.take_from_tray(other)


@pytest.mark.usefixtures("lot")
def test_the_tray_lets_go_of_what_is_old_and_refuses_what_is_large():
    """After eight days a file is gone; above 50 MB none is taken."""
    from pathlib import Path
    from time import time

    from lapwright.app.wiring import current_settings

    mark = surface_tray.put_on_tray("a.png", b"old", now_s=time())
    surface_tray.put_on_tray("b.png", b"new", now_s=time() + 8 * 24 * 3600.0)
    assert not (Path(current_settings().data) / "tray" / mark).exists()
    with pytest.raises(BadInput, match="50 MB"):
        surface_tray.put_on_tray("c.png", b"\x00" * (50 * 1024 * 1024 + 1), now_s=time())


def test_wafers_of_the_newest_orders_are_offered_and_the_one_named(lot, monkeypatch):
    """Of two orders the newer one's; the older one's wafer when it is named, and no other of it."""
    monkeypatch.setattr(surface_records, "_NEWEST_ORDERS", 1)
    lot.receive(replace(ORDER, order_id="AP-2"))

    newer = surface_records.list_wafers()

    assert {order_id for order_id, _ in newer} == {"AP-2"}
    assert set(surface_records.list_wafers(besides="AP-1-01")) == {*newer, ("AP-1", "AP-1-01")}
