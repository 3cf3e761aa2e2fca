"""The archive of evidence: the same numbers again without the records, and nothing an attacker puts into one.

The certified numbers are those on record; ZIP structure after ISO/IEC 21320-1 as the standard library writes it.
"""

import hashlib
import json
import subprocess
import sys
import zipfile
from dataclasses import is_dataclass
from typing import get_args, get_type_hints

import pytest

from lapwright.app.evidence import export_evidence, recompute_archive
from lapwright.app.evidence_values import TYPES
from lapwright.errors import FileFormatError
from lapwright.formats.evidence_archive import archive_bytes, read_archive
from lapwright.model.job import RecordedFinding, RecordedSet, RecordedVerdict
from lapwright.model.odd_ones import RecordedDecision
from lapwright.model.surface_record import RecordedSurface
from lapwright.testing.lot import flat

WAFER = "AP-1-01"


@pytest.fixture
def archive(lot, tmp_path):
    """The archive of a wafer that was read, measured for roughness and judged."""
    from lapwright.app import surface_records, verdicts
    from lapwright.model.readings import Signature
    from lapwright.model.surface_record import ProfileSettings, SurfaceRequest
    from lapwright.records import writer
    from lapwright.testing.faces import profile_file

    lot.read(WAFER, "wafer", "incoming", flat(500e-6), repeats=1)
    signature = Signature(**lot.why())
    for state in ("debonded", "read_free"):
        writer.move_wafer(WAFER, state, signature)
    lot.read(WAFER, "wafer", "final", flat(100e-6))
    face = SurfaceRequest(wafer_id=WAFER, moment="final", files=(("a.csv", profile_file()),))
    surface_records.record_profile(face, ProfileSettings(), **lot.why())
    verdicts.judge_wafer(WAFER, **lot.why())
    path = tmp_path / "evidence.zip"
    path.write_bytes(export_evidence(WAFER, at=lot.now))
    return path


def rewritten(path, change):
    """The archive with its parts changed and its manifest made to fit."""
    kept = read_archive(path)
    parts = dict(kept.parts)
    change(parts)
    told = {name: value for name, value in kept.told.items() if name not in ("parts", "format")}
    path.write_bytes(archive_bytes(told, parts))


def test_every_number_comes_out_again_bit_for_bit_without_the_records(archive):
    """In a process that never opens a database: sets, face and verdicts."""
    done = subprocess.run(
        [sys.executable, "-c",
         ("import sys; from lapwright.cli.main import run; import atexit;"
          "atexit.register(lambda: sys.stderr.write('django' if 'django' in sys.modules else 'without'));"
          "run(['verify', '--recompute', sys.argv[1], '--json'])"), str(archive)],
        check=True, capture_output=True, text=True, timeout=50,
    )  # fmt: skip
    result = json.loads(done.stdout)["result"]
    names = " ".join(one["name"] for one in result["numbers"])
    assert (result["agrees"], result["tolerance"], result["wafers"]) == (True, 0.0, [WAFER])
    assert all(word in names for word in ("incoming mean_m", "final ttv_m", "face", "verdict", "roughness_ra"))
    assert done.stderr.endswith("without")


def test_a_reading_altered_in_the_archive_is_found(archive):
    """Though its manifest was made to fit: the certified numbers no longer come out."""

    def alter(parts):
        sets = json.loads(parts["sets.json"])
        sets[-1]["readings"][3]["reading"]["thickness"] += 1e-9
        parts["sets.json"] = json.dumps(sets).encode()

    rewritten(archive, alter)
    report = recompute_archive(archive)
    assert not report.agrees
    assert {"thickness"} <= {one.name.split()[-1] for one in report.numbers if not one.agrees}


def test_a_profile_altered_in_the_archive_is_found(archive):
    """One height of the file, as received, another."""

    def alter(parts):
        name = next(name for name in parts if name.endswith("a.csv"))
        lines = parts[name].decode().splitlines()
        lines[len(lines) // 2] = lines[len(lines) // 2 + 7]
        parts[name] = "\n".join(lines).encode()

    rewritten(archive, alter)
    assert any(one.name.startswith("face") and not one.agrees for one in recompute_archive(archive).numbers)


def test_the_archive_holds_readings_as_typed_and_the_end_of_the_chain(archive):
    """What a reader elsewhere needs: text, unit, gauge, calibration, version, formula, last link."""
    from lapwright.records.chain_check import last_link

    kept = read_archive(archive)
    text = kept.parts["sets.json"].decode()
    assert all(word in text for word in ('"text": "500.', '"certificate": "K-1"', '"gauge_id": "G1"'))
    assert (kept.told["chain"]["number"], kept.told["chain"]["digest"]) == last_link()
    assert kept.told["formulas"]["ttv"].startswith("lapwright.metrology.thickness")


def bad(path, entries, parts=None):
    """A ZIP file with entries, and a manifest over `parts`."""
    told = {"format": "lapwright evidence 1", "parts": parts or {}}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("manifest.json", json.dumps(told))
        for name, content in entries:
            file.writestr(name, content)
    return path


@pytest.mark.parametrize("name", ["../up", "/etc/passwd", "a/../../b", "a\\b", "C:x", "a//b"])
def test_a_name_that_leads_elsewhere_is_refused(tmp_path, name):
    """Nothing is ever unpacked, and such names are not even read."""
    with pytest.raises(FileFormatError, match=r"called|cannot be read|do not hold"):
        read_archive(bad(tmp_path / "a.zip", [(name, b"x")], {name: hashlib.sha256(b"x").hexdigest()}))


def test_a_bomb_is_refused_before_it_goes_off(tmp_path):
    """210 MB of zeros in 210 kB: refused by what it says; and by what it is when it says less."""
    bomb = bad(tmp_path / "a.zip", [("big", b"\0" * (210 * 1024 * 1024))], {"big": "0" * 64})
    assert bomb.stat().st_size < 1024 * 1024
    with pytest.raises(FileFormatError, match="unpacks to more than 200 MB"):
        read_archive(bomb)
    raw = bomb.read_bytes().replace((210 * 1024 * 1024).to_bytes(4, "little"), (1000).to_bytes(4, "little"))
    bomb.write_bytes(raw)
    with pytest.raises(FileFormatError):
        read_archive(bomb)


def test_parts_beside_the_manifest_twice_or_altered_are_refused(tmp_path):
    """Exactly what the manifest lists, each as it says."""
    with pytest.raises(FileFormatError, match="same parts: more"):
        read_archive(bad(tmp_path / "a.zip", [("more", b"x")]))
    with pytest.raises(FileFormatError, match="not what its manifest says: a"):
        read_archive(bad(tmp_path / "b.zip", [("a", b"x")], {"a": "0" * 64}))
    (tmp_path / "c.zip").write_bytes(b"PK\3\4 no archive")
    with pytest.raises(FileFormatError, match="cannot be read"):
        read_archive(tmp_path / "c.zip")
    with zipfile.ZipFile(tmp_path / "d.zip", "w") as file:
        file.writestr("x", "x")
    with pytest.raises(FileFormatError, match=r"no manifest\.json"):
        read_archive(tmp_path / "d.zip")


def kinds_within(kind, found):
    """All dataclasses that values of a kind may hold, by its annotations."""
    if get_args(kind):
        for inner in get_args(kind):
            kinds_within(inner, found)
    elif is_dataclass(kind) and kind not in found:
        found.add(kind)
        for inner in get_type_hints(kind).values():
            kinds_within(inner, found)
    return found


def test_whatever_an_archive_may_hold_can_be_read_from_it():
    """A kind of picture or setting that the model gained must not make archives that nobody can open."""
    held = set()
    for kind in (RecordedSet, RecordedFinding, RecordedSurface, RecordedVerdict, RecordedDecision):
        kinds_within(kind, held)
    assert {kind.__name__ for kind in held} - set(TYPES) == set()
