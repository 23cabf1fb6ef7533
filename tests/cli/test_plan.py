"""``skepway plan`` and ``recheck`` as a user runs them."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from planner.cli.main import main


def test_the_answer_comes_first(trip: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", trip, "--rows", "3"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith(("Leave ", "No departure"))
    assert lines.index("Why") < lines.index("How sure") < lines.index("Cautions")
    assert len(lines[4:]) > 3


def test_us_units_run_through_the_table(trip: str, capsys: pytest.CaptureFixture[str]) -> None:
    main(["plan", trip, "--units", "us"])
    out = capsys.readouterr().out
    assert "°F" in out
    assert "°C" not in out


def test_json_to_the_screen_is_json_alone(trip: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", trip, "--json", "-"]) == 0
    assert json.loads(capsys.readouterr().out)["skepway_plan"] == 1


def test_csv_to_the_screen_is_csv_alone(trip: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", trip, "--csv", "-"]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert {"departure", "place", "setup", "peak_core_c", "brood", "chill"} <= set(rows[0])


def test_report_and_pictures_are_written(
    trip: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    report = tmp_path / "report.html"
    assert main(["plan", trip, "--html", str(report), "--pictures", str(tmp_path)]) == 0
    assert "<svg" in report.read_text(encoding="utf-8")
    assert {path.name for path in tmp_path.iterdir()} >= {"report.html", "departures.svg", "temperatures.svg"}


def test_a_folder_that_is_not_there_is_a_storage_fault(trip: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", trip, "--html", "/nowhere/at/all/report.html"]) == 4
    assert "could not be written" in capsys.readouterr().err


def test_timing_adds_up_on_the_error_stream(trip: str, capsys: pytest.CaptureFixture[str]) -> None:
    main(["plan", trip, "--timing"])
    laps = [line.rsplit(maxsplit=2) for line in capsys.readouterr().err.splitlines() if line.endswith(" s")]
    *parts, total = [float(lap[1]) for lap in laps]
    assert total == pytest.approx(sum(parts), abs=0.005)


def test_recheck_compares_with_the_last_plan(trip: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["recheck", trip, "--offline"]) == 0
    assert "not planned before" in capsys.readouterr().out
    assert main(["recheck", trip, "--offline"]) == 0
    assert "No window changed" in capsys.readouterr().out
