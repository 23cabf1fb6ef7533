"""The command line: words for every fault, exit codes as documented."""

from __future__ import annotations

import re
import subprocess
import sys
from datetime import date
from importlib import import_module
from pathlib import Path

import pytest

from planner import __version__
from planner.app.common.march import in_use
from planner.bundled import resource_path
from planner.cli import main as command_line
from planner.cli.exits import Exit, exit_of
from planner.cli.main import main
from planner.cli.new import new_trip_text
from planner.errors import Cancelled, InputError, ServiceError, StorageError
from planner.store.catalogue import load_catalogue
from planner.store.documents import parse_toml
from planner.store.tripfile import faults


@pytest.mark.parametrize("name", ["night-pollination", "nuc-pickup", "swarm-run"])
def test_check_finds_no_fault_in_a_demo(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(resource_path("demo", f"{name}.toml"))]) == Exit.FINE
    assert "no faults" in capsys.readouterr().out


def test_check_counts_one_as_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = new_trip_text(date(2027, 5, 11)).replace("count = 4", "count = 1")
    path = tmp_path / "trip.toml"
    path.write_text(text.replace('kind = "pickup"', 'kind = "pickup"\nplaces = ["pickup_bed"]'), "utf-8")
    main(["check", str(path)])
    assert capsys.readouterr().out.endswith("160 km, 1 box, 1 loading place.\n")


def test_check_prints_field_value_problem_and_remedy(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = new_trip_text(date(2027, 5, 11)).replace('"national_nuc5_ply"', '"national_nuc5_plywood"')
    path = tmp_path / "trip.toml"
    path.write_text(text.replace("count = 4", "count = -4"), "utf-8")
    assert main(["check", str(path)]) == Exit.INPUT
    error = capsys.readouterr().err
    assert "1 fault" in error
    assert "load[0].count = -4" in error
    assert "below 1" in error
    path.write_text(text, "utf-8")
    assert main(["check", str(path)]) == Exit.INPUT
    assert 'Did you mean "national_nuc5_ply"?' in capsys.readouterr().err


def test_check_knows_the_users_own_catalogue(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = Path(__file__).resolve().parents[1] / "fixtures" / "cargo-bike.toml"
    path = tmp_path / "trip.toml"
    path.write_text(
        new_trip_text(date(2027, 5, 11)).replace('kind = "pickup"', 'kind = "cargo_bike"'), "utf-8"
    )
    assert main(["check", str(path)]) == Exit.INPUT
    assert main(["check", str(path), "--catalogue", str(own)]) == Exit.FINE
    assert capsys.readouterr().out.endswith(", 4 boxes, 1 loading place.\n")


def test_the_help_names_every_vehicle_of_the_catalogue(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["plan", "--help"])
    said = re.sub(r"\s+", " ", capsys.readouterr().out)
    assert "--vehicle NAME car, estate, van, pickup, trailer, flatbed, or one of your own catalogue" in said


def test_a_missing_file_is_a_storage_fault(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(tmp_path / "none.toml")]) == Exit.STORAGE
    assert "none.toml" in capsys.readouterr().err


def test_new_writes_a_file_that_passes_check(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "mine.toml"
    assert main(["new", str(path)]) == Exit.FINE
    assert main(["check", str(path)]) == Exit.FINE
    assert "Remark" not in capsys.readouterr().out


def test_new_never_overwrites_unasked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "mine.toml"
    path.write_text("mine")
    assert main(["new", str(path)]) == Exit.STORAGE
    assert "--force" in capsys.readouterr().err
    assert path.read_text() == "mine"
    assert main(["new", str(path), "--force"]) == Exit.FINE
    assert path.read_text("utf-8").startswith("# A trip with live bees")


@pytest.mark.parametrize(
    "today", [date(2027, 3, 26), date(2027, 10, 29), date(2028, 2, 28), date(2027, 12, 30)]
)
def test_the_new_file_is_valid_on_every_day(today: date) -> None:
    """Also on the eve of a clock change, a leap day and a new year."""
    assert faults(parse_toml(new_trip_text(today), "new"), load_catalogue()) == ()


def test_what_the_new_file_offers_in_remarks_is_valid_too() -> None:
    """Every switched-off line is switched on, one at a time; clock and loaded_at need a word elsewhere first."""
    lines = new_trip_text(date(2027, 5, 11)).splitlines()
    offered = [at for at, line in enumerate(lines) if re.match(r"# [a-z_]+ = ", line)]
    checked = 0
    for at in offered:
        if lines[at].startswith(("# clock =", "# loaded_at =")):
            continue
        text = "\n".join([*lines[:at], lines[at][2:], *lines[at + 1 :]])
        assert faults(parse_toml(text, "new"), load_catalogue()) == (), lines[at]
        checked += 1
    assert checked >= 15


def test_explained_errors_have_their_documented_codes() -> None:
    assert exit_of(InputError([])) == 2
    assert exit_of(ServiceError("a", "b", "c")) == 3
    assert exit_of(StorageError("x")) == 4
    assert exit_of(Cancelled()) == 130


def test_our_own_bugs_are_left_to_fly(monkeypatch: pytest.MonkeyPatch) -> None:
    from planner.cli import check

    def broken(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(check, "load_trip", broken)
    with pytest.raises(ZeroDivisionError):
        main(["check", "any.toml"])


def test_help_documents_the_exit_codes(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as caught:
        main(["--help"])
    assert caught.value.code == 0
    assert "exit codes: 0 fine" in " ".join(capsys.readouterr().out.split())


def test_a_command_that_is_not_there_is_an_input_fault(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as caught:
        main(["chek"])
    assert caught.value.code == Exit.INPUT
    assert "check" in capsys.readouterr().err


def test_the_module_is_the_same_door() -> None:
    found = subprocess.run(
        [sys.executable, "-m", "planner", "--version"], capture_output=True, text=True, check=True
    )
    version, march = found.stdout.splitlines()
    assert version == f"skepway {__version__}"
    assert march == in_use()


def heavy_after(code: str) -> set[str]:
    """Which costly packages a fresh interpreter holds after ``code``."""
    heavy = (
        "('numpy', 'scipy', 'scipy.stats', 'scipy.optimize', 'jinja2', 'requests', 'jsonschema', 'PySide6',"
        " 'pyqtgraph', 'PIL', 'typst')"
    )
    script = f"import sys\n{code}\nprint(*(name for name in {heavy} if name in sys.modules), file=sys.stderr)"
    found = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return set(found.stderr.split())


ASKED = """
from planner.cli.main import main
try:
    main({argv})
except SystemExit:
    pass
"""


@pytest.mark.parametrize("option", ["--version", "--help"])
def test_a_question_about_the_program_imports_nothing_costly(option: str) -> None:
    """Half of a second of imports before one line of text is half of a second too much."""
    assert heavy_after(ASKED.format(argv=[option])) == set()


def test_a_command_imports_what_it_uses() -> None:
    demo = str(resource_path("demo", "swarm-run.toml"))
    assert heavy_after(ASKED.format(argv=["check", demo])) == {"numpy", "jsonschema"}
    assert "scipy.stats" not in heavy_after("import planner.cli.plan")
    assert not {"PIL", "typst", "scipy.optimize"} & heavy_after("import planner.cli.plan")


def test_every_command_is_a_module_and_every_module_that_runs_is_a_command() -> None:
    folder = Path(command_line.__file__).parent
    modules = {
        path.stem.replace("_", "-")
        for path in folder.glob("*.py")
        if "\ndef run(args" in path.read_text("utf-8")
    }
    assert modules == set(command_line.COMMANDS)
    for name in command_line.COMMANDS:
        assert callable(import_module(f"planner.cli.{name.replace('-', '_')}").configure)


def test_help_names_every_command_and_each_command_its_options(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["--help"])
    listed = " ".join(capsys.readouterr().out.split())
    for name, text in command_line.COMMANDS.items():
        assert f"{name} {text}" in listed
    with pytest.raises(SystemExit):
        main(["water", "--help"])
    assert "--draws" in capsys.readouterr().out
