"""``skepway inspect`` from the shell: what is typed is judged and kept; the list to print needs no plan."""

from __future__ import annotations

import json
import re
import shutil
from datetime import datetime
from pathlib import Path

import pytest

from planner.bundled import resource_path
from planner.cli.exits import Exit
from planner.cli.main import main
from planner.model.box_names import box_name
from planner.store.logbook.book import Logbook
from planner.store.logbook.identity import trip_key

BOX = box_name(1)


@pytest.fixture
def trip(tmp_path: Path) -> Path:
    """The pickup with two departures in one loading place: what is judged matters less here than what is told."""
    for file in resource_path("demo").glob("nuc-pickup*"):
        shutil.copy(file, tmp_path)
    path = tmp_path / "nuc-pickup.toml"
    text = re.sub(r"places = \[.*?\]", 'places = ["open_trailer"]', path.read_text("utf-8"), flags=re.DOTALL)
    path.write_text(text.replace('to = "2027-11-13T23:00"', 'to = "2027-11-13T07:00"'), "utf-8")
    return path


def test_the_list_to_print_and_the_overview_leave_the_file_alone(
    trip: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = trip.read_bytes()
    assert main(["inspect", str(trip), "--list", str(tmp_path / "list.html")]) == 0
    assert BOX in (tmp_path / "list.html").read_text("utf-8")
    assert main(["inspect", str(trip)]) == 0
    assert "4 of 4 boxes were not checked" in capsys.readouterr().out
    assert trip.read_bytes() == before


def test_a_box_is_judged_kept_and_let_go_only_for_a_reason(
    trip: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = ["floor=40", "screen=ok", "straps=no"]
    assert main(["inspect", str(trip), "--who", "AB", "--box", BOX, *found]) == 0
    said = capsys.readouterr().out
    assert f"Box {BOX}: Held." in said
    assert "Floor mesh: 40 % blocked, other than planned." in said
    assert main(["inspect", str(trip), "--override", "no", "--box", BOX]) == Exit.INPUT
    assert main(["inspect", str(trip), "--override", "straps wait at the gate", "--box", BOX]) == 0
    assert "Goes against advice" in capsys.readouterr().out
    assert main(["inspect", str(trip), "--json", "-"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["boxes"][BOX]["found"]["floor"] == {
        "state": "not_ok",
        "value": 40.0,
        "how": "eye",
        "remark": "",
    }
    assert document["boxes"][BOX]["override"] == "straps wait at the gate"


@pytest.mark.slow
def test_boxes_are_judged_by_the_start_and_closing_that_the_answer_advises(
    trip: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """They were judged by typical bees' best: a glued floor was released in a place the answer does not choose."""
    assert main(["inspect", str(trip), "--box", BOX, "floor=100"]) == 0
    capsys.readouterr()
    assert main(["plan", str(trip), "--json", "-"]) == 0
    best = json.loads(capsys.readouterr().out)["best"]
    kept = Logbook().plans(trip_key(trip))[-1].snapshot
    shut, told = kept["load"]["groups"][0]["closing"], best["by_group"][0]["closing"]
    assert kept["departure_s"] == datetime.fromisoformat(best["leave"]).timestamp()
    assert shut["rule"] == ("actual" if told["rule"] == "now" else told["rule"])
    assert shut["at_s"] in (None, datetime.fromisoformat(told["at"]).timestamp())
    assert kept["loading_place"] == best["place"]


@pytest.mark.parametrize("found", ["floor=140", "roof=ok", "floor=much", "straps=3"])
def test_a_wrong_finding_is_refused_and_nothing_is_written(
    found: str, trip: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = trip.read_bytes()
    assert main(["inspect", str(trip), "--box", BOX, found]) == Exit.INPUT
    assert found.split("=")[0] in capsys.readouterr().err
    assert trip.read_bytes() == before


def test_the_help_of_check_says_file_and_that_of_inspect_boxes(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["--help"])
    said = " ".join(capsys.readouterr().out.split())
    assert re.search(r"check check the trip file", said)
    assert re.search(r"inspect the boxes before the start", said)


def test_a_made_up_season_is_told(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["lessons", "--demo", "--pictures", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert "900 boxes rode, 12 lost" in said
    assert (tmp_path / "calibration.svg").read_text("utf-8").startswith("<svg")


def test_a_list_that_was_typed_is_judged_box_by_box(
    trip: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = tmp_path / "list.csv"
    assert main(["inspect", str(trip), "--list", str(table)]) == Exit.FINE
    head, *rows = table.read_text(encoding="utf-8").splitlines()
    at = head.split(",").index("straps")
    for number, row in enumerate(rows[:2]):
        cells = row.split(",")
        cells[at] = ("ok", "no")[number]
        rows[number] = ",".join(cells)
    table.write_text("\n".join([head, *rows]), encoding="utf-8")
    capsys.readouterr()
    assert main(["inspect", str(trip), "--typed", str(table), "--offline"]) == Exit.FINE
    said = capsys.readouterr().out
    assert "Typed in: 2 boxes." in said
    assert "Strap it" in said
