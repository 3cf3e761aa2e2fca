"""A listed hazard is shown wherever somebody acts: at every step, on the page of every task that waits for a hand."""

import csv
from dataclasses import replace
from html import unescape
from importlib.resources import files
from itertools import product

import pytest

from lapwright.app import cautions, readings, routes, runs, tasks
from lapwright.library import load
from lapwright.model.readings import Signature
from lapwright.testing.board_shop import PLAN
from lapwright.testing.lot import CARRIER_THICKNESS, ORDER, flat

WAFER = "AP-1-01"
#: Tasks that ask for a decision or a look at a page alone, not for hands on a wafer.
SET = {
    "piece": "AP-2-01", "moment": "incoming", "gauge": "G1", "pattern": "five", "repeats": "1", "unit": "µm", "hold": "free"
}  # fmt: skip
DECIDED = ("judge", "decide", "choose", "lay out", "issue", "hear", "look at its readings", "enter the readings")


@pytest.fixture(scope="module")
def listed():
    """The rows as they stand in the file: what each caution is for, and its sentence."""
    lines = (files("lapwright.library") / "data" / "hazards.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def text_of(answer):
    """A page as text."""
    return unescape(" ".join(answer.content.decode().split()))


def meant(row, column, met):
    """An empty cell means any."""
    named = row[column].replace(";", " ").split()
    return not named or any(one in named for one in met)


@pytest.mark.usefixtures("django")
def test_every_listed_hazard_of_material_adhesive_and_step(listed):
    """All combinations of the library: each row that matches is in the card, whose first line are the site's rules."""
    library = load()
    glues = {"": library.adhesives, **{one.adhesive_id: (one,) for one in library.adhesives}}
    steps = ("lap", "measure", "polish", "etch", "clean", "bond", "debond")
    looked = 0
    for material, (name, meet), step in product(library.materials, glues.items(), steps):
        slurry = {"polish": "hypochlorite", "clean": "silica-peroxide"}.get(step, "")
        card = cautions.cautions_for(
            material.material_id, step=step, adhesive=name, slurries=[slurry] if slurry else ()
        )
        has_glue = step in ("bond", "debond", "clean")
        met = {
            "materials": [material.material_id],
            "steps": [step],
            "adhesives": [one.adhesive_id for one in meet] if has_glue else [],
            "solvents": [solvent for one in meet for solvent in one.solvents] if has_glue else [],
            "slurries": [slurry] if slurry else [],
        }
        wanted = [row["caution"] for row in listed if all(meant(row, column, given) for column, given in met.items())]
        assert [one for one in wanted if one not in card] == [], (material.material_id, name, step)
        assert "Site rules" in card[0]
        looked += len(wanted)
    assert looked > 2000


@pytest.fixture
def hands(client, lot):
    """Looks at Hands as it stands: each thing to do with its cautions, and the page it leads to with the same."""
    from lapwright.web.pages.hands import lines_of

    def look():
        done = []
        for line in lines_of(tasks.waiting_tasks(now=lot.now)):
            if line.verb.startswith(DECIDED):
                continue
            page = text_of(client.get(line.address.partition("#")[0], follow=True))
            assert "Site rules" in line.cautions[0], line.verb
            assert [one for one in line.cautions if one not in page] == [], line.verb
            done.append(line.verb)
        return done

    return look


def test_every_task_of_hands_and_its_page_show_the_cautions(client, lot, hands, monkeypatch):
    """A wafer from the box to the last reading; the step of each task by what is done with the hands."""
    from lapwright.records import writer

    (edges,) = [one.caution for one in load().hazards if one.hazard_id == "sharp-edges"]
    assert hands() == ["read it in"]
    opened = readings.open_set(lot.request(WAFER, "wafer", "incoming", repeats=1), **lot.why())
    assert hands() == ["finish reading the sites"]
    assert edges in text_of(client.get(f"/orders/AP-1/readings/{opened.set_id}"))
    readings.void_set(opened.set_id, **lot.why("to be read by another"))
    lot.read(WAFER, "wafer", "incoming", flat(500e-6), repeats=1)
    assert hands() == ["read a bare carrier"]
    lot.read("C1", "carrier", "carrier", flat(CARRIER_THICKNESS))
    assert hands() == ["bond it to a carrier"]
    routes.choose_route("AP-1", PLAN, **lot.why())
    lot.bond(WAFER, flat(500e-6))
    (lap,) = hands()
    ended, kept = runs.finish_run, []
    monkeypatch.setattr(
        runs, "finish_run", lambda *given, **why: (kept or kept.append(hands()), ended(*given, **why))[1]
    )
    lot.work(WAFER, until_look=True)
    assert kept[0] == ["running: record the end when it stops"]
    assert lap != hands()[0]
    for state, verb in (
        ("worked", "read it on the carrier"), ("read_on_carrier", "take it off the carrier"),
        ("debonded", "clean it and read it free"), ("read_free", "measure the Ra"),
    ):  # fmt: skip
        writer.move_wafer(WAFER, state, Signature(**lot.why()))
        assert hands() == [verb]
    assert edges in text_of(client.get(f"/profiles?wafer={WAFER}"))


def test_arsenic_is_named_before_a_lapped_face_is_measured(client, lot):
    """Gallium arsenide: on the page that opens a set, on the set, on Finish and on Fringes."""
    lot.receive(replace(ORDER, order_id="AP-2", material="GaAs"))
    address = client.post("/orders/AP-2/readings", SET).headers["Location"]
    for page in ("/orders/AP-2/readings?wafer=AP-2-02", "/orders/AP-2/readings", address):
        assert "inorganic arsenic" in text_of(client.get(page, follow=True))
    for page in ("/profiles", "/surfaces"):
        assert "inorganic arsenic" in text_of(client.get(f"{page}?wafer=AP-2-01"))
        assert "inorganic arsenic" not in text_of(client.get(page))
