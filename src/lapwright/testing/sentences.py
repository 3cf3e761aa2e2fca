"""Sentences of the layers below the pages, found in their sources: f-strings become texts with numbered places.

Taken are texts of several words, and what is put into them by a condition; left out are docstrings, queries, patterns,
what goes to a log, and what is no more than places. Sentences that the library holds as data come from its files.
"""

from __future__ import annotations

import ast
import csv
import re
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).parents[1]
#: Folders and files whose sentences reach a page.
SPEAKERS = (
    "app",
    "records",
    "process",
    "model",
    "metrology",
    "errors.py",
    "units.py",
    "library",
    "formats/statistics_results.py",
    "formats/wafer_list.py",
    "formats/delimited.py",
    "formats/edge_values.py",
    "formats/readings_cells.py",
    "formats/readings_checks.py",
    "formats/readings_header.py",
    "formats/readings_rows.py",
    "formats/readings_once.py",
    "formats/readings_csv.py",
    "formats/number_text.py",
    "formats/faults.py",
    "formats/file_bytes.py",
    "formats/images.py",
    "formats/photographs.py",
    "formats/piece_codes.py",
    "formats/plate_points.py",
    "formats/profile_csv.py",
    "formats/map_csv.py",
)
#: Files of data -> their columns that are sentences.
DATA = {
    "hazards.csv": ("caution",), "contradictions.csv": ("subject", "statement", "handling"),
    "drift_causes.csv": ("cause", "look_at"), "materials.csv": ("name",),
    "abrasives.csv": ("name",), "plates.csv": ("name",), "adhesives.csv": ("name",), "pads.csv": ("name",),
    "slurries.csv": ("name",), "solvents.csv": ("name",),
}  # fmt: skip
#: Words that a sentence is given by a condition, and quantities that one begins with.
WORDS = (
    "domed", "dished", "more", "less", "above", "below", "inward", "outward", "earlier", "later", "sooner", "colder",
    "hotter", "higher", "lower", "growing", "inside", "outside", "evenly", "Heated", "Cooled", "thickness", "ttv",
    "wedge", "flatness", "bow", "warp", "roughness ra", "roughness sq", "stack", "wafer", "carrier", "gauge", "reading",
    "polish", "length", "angle", "force", "load", "mass", "pressure", "speed", "rotation", "removal rate", "time",
    "temperature", "temperature difference", "volume", "flow", "drift", "share", "count", "lap", "clean",
    "judged", "certified", "rejected", "number", "value",
    "measure", "bond", "Polish", "Etch", "finish", "Lap", "coarse lap", "fine lap", "middle lap", "second lap",
    "third lap", "wash", "overhead", "slurry of {0}", "station {0}", "boron carbide", "green SiC", "alumina", "ceria",
    "diamond", "colloidal silica", "resolution", "operator", "part", "repeatability", "abrasive", "plate",
    "a pad", "{0} readings were corrected; the records hold both values, by whom and why.",
    "One reading was corrected; the records hold both values, by whom and why.",
    "{0} readings were questioned at entry and deliberately kept.",
    "One reading was questioned at entry and deliberately kept.",
    "interaction", "operators", "parts", "slide off on a hot plate {0} %", "solvent from the edge {0} %",
    "Library row {0}: carried over from {1}", "Library row {0}: carried over from {1} by eq. 2.3 (x {2})",
    "Library row {0}: carried over from {1} by the removal index (x {2})",
    "Library row {0}: carried over in proportion to the grain, {1} to {2} µm",
    "Library row {0}, x/÷ {1}: carried over from {2}",
    "Library row {0}, x/÷ {1}: carried over from {2} by eq. 2.3 (x {3})",
    "Library row {0}, x/÷ {1}: carried over from {2} by the removal index (x {3})",
    "Library row {0}, x/÷ {1}: carried over in proportion to the grain, {2} to {3} µm",
    "Library row {0}, x/÷ {1}: carried over to the plate {2}, not among {3}", "cutoff", "repeats",
    "From your last {0} runs.", "From your last {0} runs, one lot.", "From your last {0} runs, {1} lots.",
    "From your one run.", "From your one run, one lot.",
    "solvent through a perforated carrier {0} %", "heat to the release temperature {0} %",
    "point {0}", "point {0} (wafer {1})", "Point {0} lies above the limit.", "Point {0} lies below the limit.",
    "Point {0} (wafer {1}) lies above the limit.", "Point {0} (wafer {1}) lies below the limit.",
    "Points {0} to {1} lie above the limit.", "Points {0} to {1} lie below the limit.",
    # put together in more than one step
    "carried over in proportion to the grain, {0} to {1} µm", "moved by {0} of your runs with other combinations",
    "which may be none", "{0}, then {1}", "{0} or {1}",
    "{0} on {1} at {2} kPa", "{0} with {1} on {2}", "Common practice of the trade, no source",
    "Site rules, safety data sheets and licensed practice come first.",
)  # fmt: skip
#: Parts of these folders that speak to no page: programs of their own, tables of names, what a database reads.
SILENT = ("migrations", "django_settings.py", "models", "trials")
#: Calls whose arguments are read by a program and not by a person.
UNHEARD = re.compile(
    r"(_?LOG|log|logging|re|cursor|connection|kept)\.|(warnings.warn|RunSQL|TypeError|ValueError|AssertionError|EOFError|NotImplementedError|RuntimeError|Unit|field_unit|printed|execute|getattr|import_module|strftime|strptime|Path|Path\.\w+|open|.*\.raw|(kept_results\.)?kept_(until|until_write|unless|in_parts|in_batches))$"
)


#: Of the pages themselves: files whose sentences go to programs and logs, and calls that mark a text for translation.
UNSAID = re.compile(r"(api\w*|questions|asgi|connections|measures|middleware|health|sockets)\.py")
MARKED = re.compile(r"_|_now|n?gettext(_lazy)?|pgettext(_lazy)?")


def sentences() -> frozenset[str]:
    """All sentences that reach a page from below, and the refusals of the pages themselves."""
    found = set(_of_data()) | set(WORDS) | set(_of_pages())
    for speaker in SPEAKERS:
        place = PACKAGE / speaker
        for path in [place] if place.is_file() else sorted(place.rglob("*.py")):
            if not set(SILENT) & set(path.relative_to(PACKAGE).parts):
                found |= set(in_source(path.read_text(encoding="utf-8")))
    return frozenset(found)


def in_source(source: str) -> Iterator[str]:
    """The sentences of one module."""
    tree = ast.parse(source)
    unheard = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    yield from _walked(tree, unheard)


# ----------------------------------------------------------------------------------------------------------------------


def _of_data() -> Iterator[str]:
    for name, columns in DATA.items():
        lines = (PACKAGE / "library" / "data" / name).read_text(encoding="utf-8").splitlines()
        for row in csv.DictReader(line for line in lines if not line.startswith("#")):
            yield from (row[column] for column in columns if row[column])


def _of_pages() -> Iterator[str]:
    """Whole sentences of the pages that no call marks for translation: what they refuse with."""
    for path in sorted((PACKAGE / "web").rglob("*.py")):
        if UNSAID.fullmatch(path.name):
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        heard = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and MARKED.fullmatch(node.func.id):
                heard |= {id(argument) for argument in node.args}
        yield from (one for one in _walked(tree, heard) if one.endswith(".") and "%(" not in one)


def _walked(node: ast.AST, unheard: set[int]) -> Iterator[str]:
    if isinstance(node, ast.Constant | ast.JoinedStr) and id(node) in unheard:
        return
    text, inside = _text(node, 0)
    if text:
        if _is_sentence(text):
            yield text.strip(" ")
        for part in inside:
            yield from _walked(part, unheard)
        return
    if isinstance(node, ast.Call) and UNHEARD.match(ast.unparse(node.func)):
        return
    for child in ast.iter_child_nodes(node):
        yield from _walked(child, unheard)


def _text(node: ast.AST, count: int) -> tuple[str, list[ast.expr]]:
    """A text with numbered places from `count` on, and what stands in them; empty where the node is no text."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return ("" if re.search(r"[{}\n]", node.value) else node.value), []
    if isinstance(node, ast.JoinedStr):
        text = ""
        inside: list[ast.expr] = []
        for part in node.values:
            if isinstance(part, ast.FormattedValue):
                text += f"{{{count + len(inside)}}}"
                inside.append(part.value)
            elif isinstance(part, ast.Constant):
                text += str(part.value)
        return text, inside
    return "", []


def _is_sentence(text: str) -> bool:
    if re.search(
        r"SELECT |INSERT |UPDATE |CREATE |PRAGMA |BEGIN |DELETE |LISTEN |SHOW |ORDER BY|lapwright\.|^id, |^# |[äöüß]|[{][^0-9}]|_um\b.*,|\w\(|://|[=#<>|\\]\S|\S=|^\W*[a-z]+/|\\n",
        text,
    ):
        return False
    bare = re.sub(r"\{\d+\}", "", text)
    letters = sum(letter.isalpha() for letter in bare)
    has_places = bare != text
    if re.fullmatch(r"[A-Za-z ]*", bare) and letters < 3 * text.count("{"):
        return False  # a name put together, or too little to be told by
    return letters >= (3 if has_places else 4) and (
        bool(re.search(r"[A-Za-z]{2,}[,;:.]? +\S", text)) or (has_places and " " in text.strip())
    )
