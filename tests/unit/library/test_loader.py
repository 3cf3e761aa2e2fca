"""Reading, checking and overriding the process library."""

from dataclasses import fields

import pytest

from lapwright.errors import FileFormatError, LibraryError, NotFound
from lapwright.library import SAFETY_FIRST, TRUST_MEANING, Library, load, loader


@pytest.fixture(scope="module")
def library():
    """The shipped library."""
    return load()


def user_file(tmp_path, text):
    """A user file with this text."""
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    return path


def all_rows(library):
    """Every row of every table, properties included."""
    for name in (one.name for one in fields(Library)):
        if name != "sources":
            yield from getattr(library, name)
    for material in library.materials:
        yield from material.properties.values()


def test_every_row_names_its_source_and_how_far_it_can_be_trusted(library):
    """No row without a full reference and a known trust word; none of ours is called the lab's own."""
    rows = list(all_rows(library))

    assert len(rows) > 400
    assert all(row.origin.source and row.origin.trust in TRUST_MEANING for row in rows)
    assert not any(row.origin.trust == "own" for row in rows)


def test_values_are_in_si(library):
    """Density 2.33 g/cm3, wax at 110 C, plate pressure 10 kPa, damage 12 um."""
    assert library.material("Si").value("density") == 2330.0
    assert library.adhesive("rosin").bonding_low == pytest.approx(383.15)
    assert library.material("LiTaO3").value("lap_pressure") == 10e3
    assert next(r for r in library.damage if r.row_id == "lt-sic1000").depth_high == pytest.approx(12e-6)


def test_a_user_row_takes_the_place_of_a_shipped_one_and_says_so(tmp_path, library):
    """The overriding row carries what it replaced; the number of rows stays."""
    own = load(user_file(tmp_path, """
[[removal_coefficients]]
row_id = "lt-sic1000"
material = "LiTaO3"
process = "lap"
abrasive_kind = "green_sic"
grain_um = 11.5
grain_low_um = 9
grain_high_um = 14
plates = ["cast-iron"]
coefficient_per_pa = 1.2e-11
band = 1.3
pressure_low_kpa = 5
pressure_high_kpa = 15
source = "own runs, spring 2026"
trust = "own"
"""))  # fmt: skip
    row = next(r for r in own.removal_coefficients if r.row_id == "lt-sic1000")

    assert row.coefficient == 1.2e-11
    assert row.origin.trust == "own"
    assert "removal_coefficients.csv" in row.origin.replaces
    assert "replaces" in row.origin.sentence()
    assert len(own.removal_coefficients) == len(library.removal_coefficients)


def test_a_user_row_with_a_new_key_is_added(tmp_path, library):
    """One material more, found by its name."""
    own = load(user_file(tmp_path, """
[[materials]]
material_id = "MgO"
name = "magnesium oxide"
family = "oxide crystal"
brittle = true
source = "own"
trust = "own"
"""))  # fmt: skip

    assert own.material("magnesium oxide").material_id == "MgO"
    assert len(own.materials) == len(library.materials) + 1


def test_all_faults_are_named_at_once(tmp_path):
    """A word for a number, an unknown heading, a bad trust word, a missing column, an unknown table: five faults."""
    path = user_file(tmp_path, """
[[damage]]
row_id = "x"
material = "LiTaO3"
abrasive_kind = "alumina"
grain_um = "fine"
depth_low_um = 1
depth_high_um = 2
depth_kind = "crack"
colour = "grey"
source = "own"
trust = "own"

[[materials]]
material_id = "MgO"
name = "magnesium oxide"
brittle = true
source = "own"
trust = "sure"

[[wishes]]
a = 1
""")  # fmt: skip
    with pytest.raises(LibraryError) as caught:
        load(path)

    assert {fault.field for fault in caught.value.faults} == {"grain_um", "colour", "trust", "family", "wishes"}
    assert all("own.toml" in fault.sentence for fault in caught.value.faults)


def test_odd_values_are_named(tmp_path):
    """A number for a row, true for a number, perhaps for a flag, a negative grain, an unknown process and property."""
    path = user_file(tmp_path, """
plates = [1]

[[abrasives]]
abrasive_id = "x"
name = "x"
kind = "alumina"
process = "boil"
grain_um = -3
hardness_gpa = true
source = "own"
trust = "own"

[[material_properties]]
material = "Si"
property = "colour"
value = 1
source = "own"
trust = "own"

[[materials]]
material_id = "MgO"
name = "magnesium oxide"
family = "oxide crystal"
brittle = "perhaps"
source = ""
trust = "own"
""")  # fmt: skip
    with pytest.raises(LibraryError) as caught:
        load(path)

    named = {fault.field for fault in caught.value.faults}
    assert named == {"plates", "process", "grain_um", "hardness_gpa", "property", "brittle", "source"}


def test_faults_of_shipped_rows_are_found_too(tmp_path, monkeypatch):
    """A source that is not listed, a row that stands twice, an abrasive of no known kind."""
    for file in loader.DATA.iterdir():
        (tmp_path / file.name).write_text(file.read_text(encoding="utf-8"), encoding="utf-8")
    damage = tmp_path / "damage.csv"
    lines = damage.read_text(encoding="utf-8").splitlines()
    new = ["a,Si,alumina,3,1,2,crack,,hearsay,read", lines[-1], "b,Si,chalk,3,1,2,crack,,practice,common_practice"]
    damage.write_text("\n".join([*lines, *new]), encoding="utf-8")
    monkeypatch.setattr(loader, "DATA", tmp_path)
    loader._shipped_library.cache_clear()

    with pytest.raises(LibraryError) as caught:
        load()

    loader._shipped_library.cache_clear()
    assert [fault.field for fault in caught.value.faults] == ["source", "row_id", "abrasive_kind"]
    assert [fault.row for fault in caught.value.faults] == [len(lines) + k for k in (1, 2, 3)]


@pytest.mark.parametrize("look_up", ["material", "abrasive", "plate", "adhesive"])
def test_what_is_not_there_is_said_with_what_is(library, look_up):
    """Every look-up by name lists what the library holds."""
    with pytest.raises(NotFound, match="it holds"):
        getattr(library, look_up)("nothing of the kind")


def test_grades_and_hardness_have_their_own_look_ups(library):
    """An unknown grade and a hardness beyond the rules are answered alike."""
    with pytest.raises(NotFound):
        library.grain_grade("JIS", "F1000")
    with pytest.raises(NotFound):
        library.plate_rule(1e12)


def test_rows_that_point_at_nothing_are_faults(tmp_path):
    """An unknown material, an unknown plate and an upside-down range are all named."""
    path = user_file(tmp_path, """
[[removal_coefficients]]
row_id = "x"
material = "unobtainium"
process = "lap"
abrasive_kind = "alumina"
grain_um = 3
grain_low_um = 5
grain_high_um = 2
plates = ["marble"]
coefficient_per_pa = 1e-11
band = 3
pressure_low_kpa = 5
pressure_high_kpa = 15
source = "own"
trust = "own"
""")  # fmt: skip
    with pytest.raises(LibraryError) as caught:
        load(path)

    assert sorted(fault.field for fault in caught.value.faults) == ["grain_low", "material", "plates"]


def test_a_file_that_is_no_toml_is_refused(tmp_path):
    """The sentence names the file."""
    with pytest.raises(FileFormatError, match=r"own\.toml"):
        load(user_file(tmp_path, "[[materials"))


def test_an_unknown_material_is_answered_with_the_nearest(library):
    """A slip of the key finds a hint."""
    with pytest.raises(NotFound, match="'LiTaO3'"):
        library.material("LiTaO")


@pytest.mark.parametrize(
    ("material", "step", "given", "shown", "hidden"),
    [
        ("GaAs", "lap", {}, "arsine", "phosphine"),
        ("InP", "polish", {}, "phosphine", "arsine"),
        ("LiTaO3", "debond", {"adhesive": "rosin", "solvent": "acetone"}, "hot-plate-solvent", "arsine"),
        ("LiTaO3", "debond", {}, "vacuum-glass", "hot-plate-solvent"),
        ("GaAs", "polish", {"slurry": "hypochlorite"}, "hypochlorite-acid", "hypochlorite-solvent"),
        (
            "GaAs",
            "clean",
            {"slurry": "hypochlorite", "solvent": "2-propanol"},
            "hypochlorite-solvent",
            "peroxide-acetone",
        ),
    ],
)
def test_a_hazard_is_shown_where_it_belongs_and_only_there(library, material, step, given, shown, hidden):
    """By material, step, adhesive, solvent and slurry."""
    found = [hazard.hazard_id for hazard in library.hazards_for(material, step=step, **given)]

    assert shown in found
    assert hidden not in found


def test_hazards_defer_to_the_site():
    """The line above every list says what comes first."""
    assert SAFETY_FIRST.startswith("Site rules and the safety data sheet come first")


@pytest.mark.parametrize(
    ("material", "coarse", "fine"),
    [("GaAs", "glass", "glass"), ("LiTaO3", "hard", "glass"), ("Si", "hard", "hard"), ("4H-SiC", "hard", "soft_metal")],
)
def test_iron_for_hard_and_glass_for_soft(library, material, coarse, fine):
    """The plate rule (common practice, no source): glass for soft samples, iron for hard, soft metal for the hardest."""
    rule = library.plate_rule(library.material(material).value("hardness"))

    assert coarse in rule.coarse_classes
    assert fine in rule.fine_classes
    assert rule.origin.trust == "common_practice"


def test_an_indentation_depth_is_never_planned_on(library):
    """Of the two sapphire depths that contradict each other only the crack depth is offered."""
    assert [row.depth_kind for row in library.damage_of("sapphire") if row.abrasive_kind == "boron_carbide"] == [
        "crack"
    ]


def test_contradictions_are_found_by_material_and_quantity(library):
    """The LiTaO3 figure that may be per metre or per minute is on the register."""
    assert "16" in [row.contradiction_id for row in library.contradictions_about("LiTaO3", ["removal"])]
    assert "16" not in [row.contradiction_id for row in library.contradictions_about("Si", ["removal"])]
