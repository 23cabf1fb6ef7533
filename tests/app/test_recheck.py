"""What changed since the last plan: found, explained by the weather, and silent where nothing did."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from planner.app.plan.plan import plan_trip
from planner.app.plan.recheck import changes, from_document, snapshot
from planner.app.plan.results import Plan
from planner.errors import StorageError
from planner.model.catalogue import Catalogue
from planner.store.journal import KEEP_PER_TRIP, Journal


@pytest.fixture(scope="module")
def warmer(plan: Plan, catalogue: Catalogue) -> Plan:
    """The same trip under a forecast 6 K warmer with half the wind."""
    weather = plan.weather
    hot = replace(
        weather,
        air_c=weather.air_c + 6.0,
        wind_east_ms=weather.wind_east_ms * 0.5,
        wind_north_ms=weather.wind_north_ms * 0.5,
    )
    return plan_trip(plan.trip, plan.road, hot, catalogue)


def test_a_warmer_forecast_loses_margin_and_says_why(plan: Plan, warmer: Plan) -> None:
    lines = list(changes(warmer, snapshot(plan, 0.0), snapshot(warmer, 7200.0)))
    assert lines[0].startswith("Last planned 2 h ago")
    lost = [line for line in lines if "lost" in line]
    assert lost
    assert all("warmer" in line for line in lost)


def test_the_same_forecast_changes_nothing(plan: Plan) -> None:
    lines = list(changes(plan, snapshot(plan, 0.0), snapshot(plan, 60.0)))
    assert "still" in lines[1]
    assert lines[-1].startswith("No window changed")


def test_another_window_has_nothing_in_common(plan: Plan) -> None:
    old = snapshot(plan, 0.0)
    moved = replace(old, departures_s=old.departures_s + 1e6)
    assert "None of the options" in list(changes(plan, moved, snapshot(plan, 1.0)))[-1]


def test_a_snapshot_survives_the_journal(plan: Plan, tmp_path: Path) -> None:
    book = Journal(tmp_path / "j.sqlite")
    book.keep("trip", 5.0, snapshot(plan, 5.0).as_document())
    kept = book.last("trip")
    assert kept is not None
    assert from_document(kept).as_document() == json.loads(json.dumps(snapshot(plan, 5.0).as_document()))


def test_the_journal_keeps_the_newest_few(tmp_path: Path) -> None:
    book = Journal(tmp_path / "j.sqlite")
    for i in range(KEEP_PER_TRIP + 5):
        book.keep("a", float(i), {"n": i})
    book.keep("b", 0.0, {"n": "other"})
    assert book.last("a") == {"n": KEEP_PER_TRIP + 4}
    assert book.last("b") == {"n": "other"}
    assert book.last("c") is None


def test_a_broken_journal_is_explained(tmp_path: Path) -> None:
    path = tmp_path / "j.sqlite"
    path.write_bytes(b"not a database at all" * 100)
    with pytest.raises(StorageError, match="Move the file away"):
        Journal(path).last("a")
