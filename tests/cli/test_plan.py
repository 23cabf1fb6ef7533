"""``skepway plan`` and ``recheck`` as a user runs them."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from planner.app.answer.ask import unanswered
from planner.app.answer.records import Tolerance
from planner.bundled import resource_path
from planner.cli.main import main
from planner.cli.planning import exit_for
from tests.app.answered import tiny

FEW = ["--draws", "16"]
FIRST = ("Go", "Do not go", "Cannot tell")


def schema() -> dict[str, object]:
    """What the document must keep to."""
    loaded: dict[str, object] = json.loads(resource_path("plan.schema.json").read_text("utf-8"))
    return loaded


def test_the_answer_comes_first(trip: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", trip, "--rows", "3", *FEW]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith(FIRST)
    assert lines.index("Why") < lines.index("How sure") < lines.index("Cautions")
    assert len(lines[4:]) > 3


def test_us_units_run_through_the_table(trip: str, capsys: pytest.CaptureFixture[str]) -> None:
    main(["plan", trip, "--units", "us", *FEW])
    out = capsys.readouterr().out
    assert "°F" in out
    assert "°C" not in out


FIRST_EDITION = (
    "skepway_plan", "trip", "invented", "answer", "next_best", "reasons", "how_sure", "cautions", "notes",
    "weather", "road", "candidates",
)  # fmt: skip
FIRST_EDITION_CANDIDATE = (
    "departure", "arrival", "closed", "opened", "place", "setup", "fits", "level", "level_disturbed", "brood",
    "queen", "workers", "comb", "chill", "peak_core_c", "peak_core_calm_c", "peak_core_disturbed_c",
    "peak_stores_c", "low_core_c", "headroom_k", "headroom_hotter_k", "headroom_colder_k", "headroom_exact",
    "margin_k", "margin_disturbed_k", "dead_share", "water_ml_per_box", "water_short_ml_per_box",
    "peak_co2_share", "closed_by_day",
)  # fmt: skip
"""What ``plan --json`` wrote before there was one answer."""


def test_json_to_the_screen_is_json_alone_keeps_the_schema_and_every_older_key(
    trip: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["plan", trip, "--json", "-", *FEW]) == 0
    document = json.loads(capsys.readouterr().out)
    jsonschema.validate(document, schema())
    assert document["skepway_plan"] == 2
    assert document["draws"] == {"count": 16, "seed": 1, "finished": True}
    assert set(FIRST_EDITION) <= set(document)
    assert set(FIRST_EDITION_CANDIDATE) <= set(document["candidates"][0])


@pytest.mark.parametrize(
    ("decision", "missing", "quiet", "loud"),
    [
        ("go", (), 0, 0),
        ("do_not_go", (), 0, 10),
        ("cannot_tell", (), 0, 11),
        ("go_if", (), 0, 12),
        ("cannot_tell", ("weather",), 3, 3),
    ],
)
def test_the_decision_is_handed_back_when_asked_for(
    decision: Any, missing: Any, quiet: int, loud: int
) -> None:
    found = replace(unanswered(tiny(), missing, Tolerance()), decision=decision)
    assert exit_for(found) == quiet
    assert exit_for(found, fail_if_unsafe=True) == loud


def test_without_weather_the_file_is_written_all_the_same(trip: str, tmp_path: Path) -> None:
    """No network, and a forecast asked for."""
    text = Path(trip).read_text("utf-8")
    found = re.sub(r'source = "file"\nfile = "[^"]*"', 'source = "open_meteo"', text)
    assert found != text
    other, out = Path(trip).with_name("no-weather.toml"), tmp_path / "out.json"
    other.write_text(found, "utf-8")
    assert main(["plan", str(other), "--offline", "--json", str(out), *FEW]) == 3
    document = json.loads(out.read_text("utf-8"))
    jsonschema.validate(document, schema())
    assert (document["decision"], document["missing"]) == ("cannot_tell", ["weather"])
    assert (document["best"], document["next"], document["candidates"]) == (None, None, [])


def test_faults_in_the_trip_leave_no_file(tmp_path: Path) -> None:
    broken, out = tmp_path / "broken.toml", tmp_path / "out.json"
    broken.write_text("version = 1\n", "utf-8")
    assert main(["plan", str(broken), "--json", str(out)]) == 2
    assert not out.exists()


def test_csv_to_the_screen_is_csv_alone(trip: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", trip, "--csv", "-", *FEW]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert {"leave", "place", "setup", "harm_of_100_value", "headroom_k_p50", "brood", "chill"} <= set(
        rows[0]
    )


def test_two_options_are_compared_in_one_sentence(trip: str, capsys: pytest.CaptureFixture[str]) -> None:
    options = ("2027-06-11T13:00,open_trailer", "2027-06-11T20:00")
    assert main(["compare", trip, *options, *FEW]) == 0
    assert "of 100 variants" in capsys.readouterr().out.splitlines()[0]
    assert main(["compare", trip, options[1], "2027-06-18T03:17", *FEW]) == 2
    told = capsys.readouterr().err
    assert "B = 2027-06-18T03:17" in told, "it is no option --leave"
    assert "The nearest leaves Friday 11 June, " in told, "a weekday alone may be that of another week"


def test_report_and_pictures_are_written(
    trip: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    report = tmp_path / "report.html"
    assert main(["plan", trip, "--html", str(report), "--pictures", str(tmp_path), *FEW]) == 0
    assert "<svg" in report.read_text(encoding="utf-8")
    assert {path.name for path in tmp_path.iterdir()} >= {"report.html", "departures.svg", "temperatures.svg"}


def test_a_folder_that_cannot_be_is_a_storage_fault(
    trip: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file stands where the folder would have to be: so it is for every user, also for one who may do anything."""
    (tmp_path / "plain").write_text("no folder", encoding="utf-8")
    assert main(["plan", trip, "--html", str(tmp_path / "plain" / "report.html"), *FEW]) == 4
    assert "cannot be made" in capsys.readouterr().err


def test_timing_adds_up_on_the_error_stream(trip: str, capsys: pytest.CaptureFixture[str]) -> None:
    main(["plan", trip, "--timing", *FEW])
    laps = [line.rsplit(maxsplit=2) for line in capsys.readouterr().err.splitlines() if line.endswith(" s")]
    *parts, total = [float(lap[1]) for lap in laps]
    assert total == pytest.approx(sum(parts), abs=0.005)


def test_recheck_compares_with_the_last_plan(trip: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["recheck", trip, "--offline", *FEW]) == 0
    assert "not planned before" in capsys.readouterr().out
    assert main(["recheck", trip, "--offline", *FEW]) == 0
    assert "No window changed" in capsys.readouterr().out
