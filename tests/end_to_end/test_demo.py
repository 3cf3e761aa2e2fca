"""The demonstration, played by its command in a process of its own: caught, judged, certified.

It is played a second time by the built wheel alone, over what the first time left.
"""

import json
import os
import re
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import UTC
from pathlib import Path

import pytest

from lapwright.sim import cast
from lapwright.testing.page_forms import forms_of, walk
from lapwright.testing.served import served
from lapwright.testing.visitor import Visitor

pytestmark = [pytest.mark.slow, pytest.mark.timeout(600)]
ROOT = Path(__file__).parents[2]
GOOD = ("AP-2407-01", "AP-2407-02", "AP-2407-03", "AP-2407-04", "AP-2407-06", "AP-2407-07")
VOID = "AP-2407-05"
DAY = ("--first-day", "2026-05-04")  # so that a week that ends between two of them changes nothing


def demo(*arguments, cwd):
    """The command's exit status and its one line of JSON."""
    line = [sys.executable, "-c", "from lapwright.cli.main import run; run()", "demo", "--json", *DAY, *arguments]
    surroundings = {**os.environ, "PYTHONUTF8": "1"}
    ran = subprocess.run(line, cwd=cwd, env=surroundings, capture_output=True, text=True, check=False)
    assert len(ran.stdout.splitlines()) == 1, ran.stderr
    return ran.returncode, json.loads(ran.stdout)


@pytest.fixture(scope="module")
def played(tmp_path_factory):
    """The demonstration in its default folder, with the bytes of its certificate."""
    place = tmp_path_factory.mktemp("shop")
    status, answer = demo(cwd=place)
    assert status == 0, answer
    data = (place / "demo-data" / "certificate" / "AP-2407-C1.json").read_bytes()
    return place, answer["result"], data


def caught(result, kind):
    """What was caught of a kind: pieces in order, and their sentences."""
    return [(one["piece"], one["sentence"]) for one in result["caught"] if one["kind"] == kind]


@pytest.mark.parametrize(
    ("kind", "piece", "words"),
    [
        ("questioned at entry", "AP-2407-06", "508.0 µm"),
        ("site stands out", "AP-2407-06", "Site A3"),
        ("drifting gauge", "G1, AP-2407-07", "allowed 0.50 µm"),
        ("gauge off its standard", "G1", "read wrong on R500"),
        ("wrong flat", "AP-2407-02", "turned by 90 degrees"),
        ("bond", "AP-2407-03", "Re-bond"),
        ("good surprise", "AP-2407-01", "planned"),
        ("good surprise", "AP-2407-04", "planned"),
        ("slurry film", "AP-2407-04", "limit 1.0"),
        ("site stands out", VOID, "Site A4"),
        ("out of limits", VOID, "chance of being inside"),
        ("cannot be decided", "AP-2407-07", "neither accepted nor rejected"),
    ],
)
def test_each_planted_trouble_is_named_by_the_program(played, kind, piece, words):
    """On the piece it was planted on, in the program's own words."""
    _, result, _ = played
    assert any(found == piece and words in sentence for found, sentence in caught(result, kind))


def test_the_turned_stack_is_found_on_the_turned_wafer_alone(played):
    """No other wafer is said to lie turned."""
    _, result, _ = played
    assert {piece for piece, _ in caught(result, "wrong flat")} == {"AP-2407-02"}


def test_six_wafers_conform_and_the_one_over_the_void_does_not(played):
    """Three limits each; only TTV fails, and only on wafer 05."""
    _, result, _ = played
    outcomes = {wafer["wafer"]: {v["quantity"]: v["outcome"] for v in wafer["verdicts"]} for wafer in result["wafers"]}
    assert set(outcomes) == {*GOOD, VOID}
    assert all(set(outcomes[wafer].values()) == {"conforms"} for wafer in GOOD)
    assert outcomes[VOID] == {"thickness": "conforms", "ttv": "does_not_conform", "roughness_ra": "conforms"}


def test_the_finished_wafers_are_within_their_limits(played):
    """100 ± 2 µm and 2 µm of TTV."""
    _, result, _ = played
    for wafer in result["wafers"]:
        values = {one["quantity"]: one["value_um"] for one in wafer["verdicts"]}
        assert 98.0 < values["thickness"] < 102.0
        assert (values["ttv"] < 2.0) == (wafer["wafer"] in GOOD)


def test_everything_says_that_it_is_invented(played):
    """The answer, the folder, the record of the order, and the certificate."""
    place, result, certificate = played
    assert result["simulated"] is True
    assert "invented" in result["note"]
    assert "invented" in (place / "demo-data" / "invented-data.txt").read_text(encoding="utf-8")
    assert json.loads(certificate)["simulated"] is True


def test_the_board_has_something_late_and_says_why(played):
    """The order promised too early, and the one behind it that is on time."""
    place, _, _ = played
    line = [sys.executable, "-c", "from lapwright.cli.main import run; run()", "queue", "--json", "--data", "demo-data"]
    ran = subprocess.run(line, cwd=place, env={**os.environ}, capture_output=True, text=True, check=True)
    orders = {one["order"]: one for one in json.loads(ran.stdout)["result"]["orders"]}
    assert orders["AP-2411"]["late_h"] > 0.0
    assert any("waits" in sentence for sentence in orders["AP-2411"]["reasons"])
    assert orders["AP-2409"]["late_h"] == 0.0


def test_the_certificate_stands_in_five_forms(played):
    """Where the answer says, none of them empty; the PDF is one."""
    _, result, _ = played
    endings = {path.rsplit(".", 1)[1]: path for path in result["certificate"]}
    assert set(endings) == {"pdf", "html", "csv", "json", "qif"}
    assert all(Path(path).stat().st_size for path in endings.values())
    assert Path(endings["pdf"]).read_bytes().startswith(b"%PDF-")


def test_the_numbers_of_the_certificate_are_those_of_the_verdicts(played):
    """TTV, thickness and roughness of every wafer, to the digits that the certificate prints."""
    _, result, certificate = played
    judged = {wafer["wafer"]: {one["quantity"]: one for one in wafer["verdicts"]} for wafer in result["wafers"]}
    for wafer in json.loads(certificate)["wafers"]:
        for printed in wafer["limits"]:
            one = judged[wafer["wafer_id"]][printed["quantity"]]
            measured = printed["measured_um"] if "measured_um" in printed else printed["measured_nm"] / 1e3
            assert measured == pytest.approx(one["value_um"], abs=0.006)
            assert printed["outcome"] == one["outcome"]


def test_the_certificate_covers_the_good_wafers_and_says_why_one_is_missing(played):
    """Six wafers; the seventh stands in the remarks with its reason."""
    _, _, certificate = played
    data = json.loads(certificate)
    assert tuple(wafer["wafer_id"] for wafer in data["wafers"]) == GOOD
    assert any(VOID in remark for remark in data["remarks"])


def test_nothing_that_was_read_has_been_deleted(played):
    """Void sets and corrected readings are still there."""
    place, _, _ = played
    database = sqlite3.connect(place / "demo-data" / "lapwright.sqlite3")
    rows = database.execute("select state, count(*) from records_readingset group by state").fetchall()
    database.close()
    states = dict(rows)
    assert states["void"] >= 2
    assert states["closed"] > 60


def test_nothing_is_recorded_after_the_story_has_ended(played):
    """The calendar moves the story by this moment so that all of it is past."""
    place, _, _ = played
    database = sqlite3.connect(place / "demo-data" / "lapwright.sqlite3")
    tables = ("records_boardplan", "records_order", "records_reading", "records_document", "records_wafer")
    last = max(database.execute(f"select max(at) from {table}").fetchone()[0] for table in tables)
    database.close()
    assert last[:16] <= f"{cast.STORY_ENDS.astimezone(UTC):%Y-%m-%d %H:%M}"


@pytest.fixture(scope="module")
def looked_at(played, tmp_path_factory):
    """What a walk over the pages found: one or two of each kind, over a copy."""
    place, _, _ = played
    copy = shutil.copytree(place / "demo-data", tmp_path_factory.mktemp("pages") / "data")
    void = f"/orders/AP-2407/wafers/{VOID}/bond"
    line = [sys.executable, "-m", "lapwright.testing.plots", str(copy), "AP-2407", void]
    ran = subprocess.run(line, env={**os.environ, "PYTHONUTF8": "1"}, capture_output=True, text=True, check=True)
    return json.loads(ran.stdout)


def test_each_drawing_of_the_pages_can_be_read_reached_and_saved(looked_at):
    """Name, sentence, keys and numbers; all kinds are met but the jig (none waits turned) and the course of a run."""
    assert looked_at["short"] == []
    assert set(looked_at["heads"]) >= {
        "check", "column_px", "contribution", "grain", "line", "mean of both, µm", "name", "part", "point",
        "route", "row", "section", "site", "stage", "void", "what", "x_mm",
    }  # fmt: skip


def test_beside_each_computed_number_of_the_pages_stands_a_why_that_works_it_out(looked_at):
    """But for a station that follows no run, where it says so; what is entered or read has none."""
    assert looked_at["unexplained"] == []
    assert {one.partition("?")[0].rpartition("/")[2] for one in looked_at["silent"]} <= {"stop", "removed"}
    assert len(looked_at["explained"]) >= 35


def test_each_form_of_the_pages_sent_twice_without_script_is_recorded_once(played, tmp_path):
    """Every form found, filled as a person in a hurry would; but the stop, which may be asked for again and again."""
    place, _, _ = played
    copy = shutil.copytree(place / "demo-data", tmp_path / "data")
    seen, recorded = set(), {}
    with closing(sqlite3.connect(copy / "lapwright.sqlite3")) as database, served(copy) as address:
        visitor = Visitor(address)

        def links():
            return database.execute("select count(*) from records_chainlink").fetchone()[0]

        for page, text in walk(visitor.page, kind_of, of_a_kind=1):
            for form in forms_of(text, page):
                name = (kind_of(form.address), tuple(one.name for one in form.fields))
                if name in seen or form.address.endswith("/stop"):
                    continue
                seen.add(name)
                before, sent = links(), filled(form)
                answer = visitor.send(form.address, sent, page=page)
                assert answer.status < 500, (form.address, answer.text[:500])
                first = links()
                if first > before:
                    again = visitor.send(form.address, sent, page=page)
                    recorded[form.address] = (again.status, links() - first)
    assert set(recorded.values()) == {(302, 0)}, recorded
    assert {one.rpartition("/")[2] for one in recorded} >= {"note", "handover", "tilt", "void"}
    assert len(seen) > 40


def kind_of(address):
    """An address without the names in it, so that one page of a kind is looked at; of those without forms none."""
    path = re.sub(r"^/(drift|rates|kinematics|help|api|.*/(documents|answers|sheet|verdict)).*", "/", address)
    path = re.sub(r"AP-24\d\d(-\d\d)?", "*", path.partition("?")[0])
    return re.sub(
        r"/(stations|gauges|plates|shelf|recipes|practice|studies|[a-z]+)/(?=[^/]*[A-Z\d])[^/]+", r"/\1/*", path
    )


def filled(form):
    """A form with the same words in each empty box."""
    for one in form.fields:
        if one.kind in ("text", "textarea") and not one.value:
            one.value = "same words"
    return form.sent()


def test_gauges_have_a_past_worth_showing(played):
    """Calibrations, checks and a filed study of each; the standard is read wrong once, by the warm gauge."""
    place, result, _ = played
    database = sqlite3.connect(place / "demo-data" / "lapwright.sqlite3")
    counts = [
        database.execute(f"select count(*) from {table}").fetchone()[0]
        for table in ("records_calibration", "records_gaugestudy where state='filed'", "records_gaugecheck")
    ]
    database.close()
    assert counts[:2] == [8, 2]
    assert counts[2] > 30
    assert len(caught(result, "gauge off its standard")) == 1


def run(*command, **options):
    """A command that must succeed; what it printed."""
    words = [str(word) for word in command]
    return subprocess.run(words, check=True, capture_output=True, text=True, **options).stdout


def test_the_wheel_alone_plays_it_again_over_the_old_one_to_the_same_certificate(played, tmp_path):
    """Data files, templates and migrations are all inside; the same seed gives the same certificate, byte for byte."""
    place, first, certificate = played
    uv = Path(sys.executable).parent / "uv"
    run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", tmp_path, ROOT)
    wheel = next(tmp_path.glob("lapwright-*.whl"))
    run(uv, "venv", "-q", "--python", sys.executable, tmp_path / "fresh")
    programs = tmp_path / "fresh" / "bin"
    run(uv, "pip", "install", "-q", "--python", programs / "python", "-c", ROOT / "constraints.txt", wheel)
    data = shutil.copytree(place / "demo-data", tmp_path / "shop" / "demo-data")
    written = data / "certificate" / "AP-2407-C1.json"
    written.write_text("an older one", encoding="utf-8")
    alone = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}

    answer = json.loads(run(programs / "lapwright", "demo", "--json", *DAY, cwd=data.parent, env=alone))

    assert answer["ok"] is True
    assert answer["result"]["caught"] == first["caught"]
    assert written.read_bytes() == certificate
    assert Path(next(path for path in answer["result"]["certificate"] if path.endswith(".pdf"))).stat().st_size > 10_000


def test_a_folder_that_is_not_its_own_is_refused_and_left_alone(tmp_path):
    """Exit status 2, a sentence, and the file is still there."""
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    status, answer = demo("--data", str(tmp_path), cwd=tmp_path)
    assert status == 2
    assert answer["code"] == "record.conflict"
    assert "not empty" in answer["error"]
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]
