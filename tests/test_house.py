"""Rules of the house that a machine can check: nothing private in the files, no number unused or unsourced."""

from __future__ import annotations

import ast
import json
import re
import shutil
import subprocess
import sys
import tomllib
from collections import Counter
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from planner.model import records
from planner.store import tripfile, tripparts
from tests.sources import last_name, nodes, text_of, tree_of

ROOT = Path(__file__).resolve().parent.parent
TEXT = {".py", ".md", ".toml", ".json", ".geojson", ".gpx", ".csv", ".html", ".j2", ".svg", ".cfg", ""}
CATALOGUES = ("box_types.toml", "frame_kinds.toml", "loading_places.toml", "parameters.toml")
LEFT_OUT = {"build", "dist", "skepway-demo"}

PRIVATE = {
    "a folder of somebody's machine": r"(?<![\w.~$}/-])/(?:work|root|home|Users|tmp)/\w",
    "a package registry's address": r"(?:pypi|pythonhosted|npmjs|debian)\.(?:org|com)/\w",
    "a working paper by name": r"(?:heat-mode[l]|services|trade|style|brie[f])\.md|shared/(?:reference|fixtures)",
    "a task number": r"(?i)\b(?:issue|ticket) ?#?\d+\b",
    "who or what wrote it": r"\b(?:A[I]|L[L]M|(?i:co-authored[-]by|assis[t]ant|language mode[l]))\b",
}


@cache
def tracked() -> tuple[Path, ...]:
    """The files of the project: those git knows, or all but built ones where there is no git."""
    listed = ""
    if shutil.which("git"):
        command = ["git", "ls-files", "-z"]
        listed = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False).stdout
    files = [ROOT / name for name in listed.split("\0") if name] or [
        path
        for path in ROOT.rglob("*")
        if not any(part.startswith(".") or part in LEFT_OUT for part in path.relative_to(ROOT).parts)
    ]
    return tuple(path for path in files if path.is_file())


@cache
def sources(folder: str) -> tuple[Path, ...]:
    return tuple(path for path in tracked() if path.suffix == ".py" and path.is_relative_to(ROOT / folder))


@pytest.mark.parametrize("kind", PRIVATE)
def test_no_file_names(kind: str) -> None:
    pattern = re.compile(PRIVATE[kind])
    found = [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()[:100]}"
        for path in tracked()
        if path.suffix in TEXT and pattern.search(text_of(path))
        for number, line in enumerate(text_of(path).splitlines(), 1)
        if pattern.search(line)
    ]
    assert not found, "\n".join(found)


def test_every_module_says_what_it_is_for() -> None:
    bare = [path.name for path in sources("planner") if not ast.get_docstring(tree_of(path))]
    assert not [name for name in bare if name != "__init__.py"]


@pytest.mark.parametrize("name", CATALOGUES)
def test_every_catalogue_row_has_a_grade_and_a_source(name: str) -> None:
    rows = tomllib.loads((ROOT / "resources" / name).read_text(encoding="utf-8"))
    assert rows
    for row_name, row in rows.items():
        assert row.get("grade") in ("A", "B", "C", "D"), row_name
        assert len(row.get("source", "")) > 5, row_name


DATED = r"\b(?:18|19|20)\d\d\b|\b(?:ISO|EN|DIN|ASTM|BS) \d+"
"""A year or the number of a standard: what finds a paper, a handbook, a table again."""
ADMITTED = "from memory|common practice, no source|engineering estimate|maker's data|energy balance|fitted"


@cache
def sourced_rows() -> tuple[tuple[str, str, str], ...]:
    """Name, grade and source of every row of the bundled tables."""
    tables = (tomllib.loads((ROOT / "resources" / name).read_text(encoding="utf-8")) for name in CATALOGUES)
    return tuple((name, row["grade"], row["source"]) for table in tables for name, row in table.items())


def test_every_source_can_be_looked_up_or_admits_that_it_cannot() -> None:
    vague = [name for name, _, source in sourced_rows() if not re.search(f"{DATED}|{ADMITTED}", source)]
    assert vague == []


def test_what_counts_as_measured_names_a_year_or_a_standard() -> None:
    """Grades A and B, DEVELOPERS.md: measured and published; an admission is not enough for them."""
    unfounded = [
        name for name, grade, source in sourced_rows() if grade in "AB" and not re.search(DATED, source)
    ]
    assert unfounded == []


def test_no_source_points_at_our_own_checks_or_out_of_the_repository() -> None:
    """A number is not its own evidence: that a test passes, or that a paper of ours says so, founds nothing."""
    pointing = r"(?i)\bchecks? [A-Z]\d|reference (?:table|literature)"
    assert [name for name, _, source in sourced_rows() if re.search(pointing, source)] == []


def test_every_parameter_lies_in_its_range_and_has_a_unit() -> None:
    rows = tomllib.loads((ROOT / "resources" / "parameters.toml").read_text(encoding="utf-8"))
    for name, row in rows.items():
        assert row["low"] <= row["value"] <= row["high"], name
        assert row["unit"], name


# -- a number that nothing reads is a promise that nothing keeps ---------------------------------

CATALOGUE_READER = ROOT / "planner" / "store" / "catalogue.py"
TRIP_READERS = tuple(
    ROOT / "planner" / "store" / f"{name}.py"
    for name in ("tripfile", "tripparts", "stageparts", "boxparts", "roadfile")
)
PROVENANCE = {"grade", "source", "unit", "note"}
"""Words that tell whoever reads a catalogue where a figure comes from; no figures themselves."""


@cache
def read_outside(*readers: Path) -> frozenset[str]:
    """Attributes taken (``place.band_k``) and rows asked for (``rows["temper_reach"]``) outside the readers.

    A name in a list of names is no reading, and neither is a field of a class.
    """
    return frozenset(
        node.attr if isinstance(node, ast.Attribute) else str(node.slice.value)
        for path in sources("planner")
        if path not in readers
        for node in nodes(path)
        if (isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Load))
        or (
            isinstance(node, ast.Subscript)
            and isinstance(node.slice, ast.Constant)
            and last_name(node.value).endswith("rows")
        )
    )


def keys_taken(*readers: Path) -> set[str]:
    """The words by which the readers take a value out of a table: ``table["km"]`` or ``table.get("km")``."""
    found = set()
    for node in (node for path in readers for node in nodes(path)):
        if isinstance(node, ast.Subscript):
            found.add(ast.unparse(node.slice))
        elif isinstance(node, ast.Call) and ast.unparse(node.func).endswith(".get"):
            found.add(ast.unparse(node.args[0]))
    return {word.strip("'") for word in found}


def schema_of(name: str) -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads((ROOT / "resources" / name).read_text(encoding="utf-8"))
    return loaded


def dicts(node: Any) -> Iterator[dict[str, Any]]:
    """Every table of a document, at any depth."""
    if isinstance(node, dict):
        yield node
    if isinstance(node, dict | list):
        for inner in node.values() if isinstance(node, dict) else node:
            yield from dicts(inner)


def properties(node: Any) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every property of a schema, at any depth."""
    for table in dicts(node):
        yield from table.get("properties", {}).items()


def fields_of_the_trip() -> set[str]:
    """Every field of every record a trip file fills."""
    kinds = [kind for room in (records, tripparts, tripfile) for kind in vars(room).values()]
    return {field.name for kind in kinds if is_dataclass(kind) for field in fields(kind)}


def test_every_parameter_is_read() -> None:
    names = set(tomllib.loads((ROOT / "resources" / "parameters.toml").read_text(encoding="utf-8")))
    assert sorted(names - read_outside(CATALOGUE_READER)) == []


@pytest.mark.parametrize("table", schema_of("catalogue.schema.json")["$defs"])
def test_every_figure_of_a_catalogue_row_is_read(table: str) -> None:
    rules = schema_of("catalogue.schema.json")["$defs"][table]["properties"]
    promised = {name for name, rule in rules.items() if not rule.get("deprecated")}
    assert sorted(promised - PROVENANCE - read_outside(CATALOGUE_READER)) == []


def test_every_property_of_a_trip_file_reaches_a_record() -> None:
    promised = {
        name for name, rule in properties(schema_of("trip.schema.json")) if not rule.get("deprecated")
    }
    assert sorted(promised - fields_of_the_trip() - keys_taken(*TRIP_READERS)) == []


def test_every_field_of_a_record_is_read() -> None:
    unread = fields_of_the_trip() - read_outside(CATALOGUE_READER, *TRIP_READERS)
    assert sorted(unread - PROVENANCE) == []


ONLY_FILLS_GAPS = {"dni_w_m2"}
"""What services use to make the sun of hours that have none; the model takes the sun."""
ONLY_KEPT = {"gust_ms"}
"""What a weather file keeps for its reader; no law of the model asks for it yet."""


def test_every_column_of_the_weather_is_read_by_the_model() -> None:
    """Rain was written, checked and kept, and read by nothing."""
    model = {
        node.attr
        for path in sources("planner/model")
        for node in nodes(path)
        if isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Load)
    }
    columns = {field.name for field in fields(records.Weather) if field.type == "Floats"}
    assert columns - model == ONLY_FILLS_GAPS | ONLY_KEPT


def test_no_bundled_file_says_what_is_no_longer_read() -> None:
    gone = {
        name
        for schema in ("trip.schema.json", "catalogue.schema.json")
        for name, rule in properties(schema_of(schema))
        if rule.get("deprecated")
    }
    assert gone == {"frame_direction", "empty_kg"}
    for path in (ROOT / "resources").rglob("*.toml"):
        said = set(re.findall(r"\w+", path.read_text(encoding="utf-8")))
        assert not said & gone, path.name


def test_no_remedy_ends_with_a_full_stop() -> None:
    """Whoever shows a fault puts the stop; two conventions end in "..", or in none."""
    said = [
        rule.get("x-remedy", "")
        for name in ("trip.schema.json", "catalogue.schema.json")
        for rule in dicts(schema_of(name))
    ]
    said += [
        ast.unparse(node.args[3]).strip("'\"")
        for room in ("store", "cli", "app")
        for path in sources(f"planner/{room}")
        for node in nodes(path)
        if isinstance(node, ast.Call) and last_name(node.func) == "Fault" and len(node.args) == 4
    ]
    assert len([remedy for remedy in said if remedy]) > 200
    assert [remedy for remedy in said if remedy.endswith((".", "!"))] == []


def test_everything_below_the_window_loads_without_qt() -> None:
    modules = [
        ".".join(path.relative_to(ROOT).with_suffix("").parts)
        for path in sources("planner")
        if not path.is_relative_to(ROOT / "planner" / "ui")
    ]
    script = (
        "import importlib, sys; sys.modules['PySide6'] = sys.modules['pyqtgraph'] = None\n"
        f"for name in {modules!r}: importlib.import_module(name)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


def test_every_name_of_the_nomenclature_exists() -> None:
    """DEVELOPERS.md, the table under "Names": each name is a field, parameter or variable of the code."""
    section = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("\n## Names\n")[1].split("\n## ")[0]
    named = {
        name for row in section.splitlines() if row.startswith("| ") for name in re.findall(r"`(\w+)`", row)
    }
    code = {word for path in sources("planner") for word in re.findall(r"\w+", text_of(path))}
    assert len(named) > 30
    assert sorted(named - code) == []


LOOSENS = {"ignore_errors", "disallow_untyped_defs", "check_untyped_defs", "disable_error_code", "strict"}


def test_no_module_escapes_the_strict_type_check() -> None:
    config = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["mypy"]
    assert config["strict"]
    assert "exclude" not in config
    assert [rule for rule in config["overrides"] if LOOSENS & set(rule)] == []


MOST_IN_A_ROOM = 12
"""More files than this in one folder cannot be taken in at a glance."""


@pytest.mark.parametrize("layer", ["app", "ui"])
def test_a_room_holds_what_can_be_taken_in_at_a_glance(layer: str) -> None:
    rooms = Counter(path.parent for path in sources(f"planner/{layer}") if path.name != "__init__.py")
    crowded = {str(room.relative_to(ROOT)): count for room, count in rooms.items() if count > MOST_IN_A_ROOM}
    assert crowded == {}
