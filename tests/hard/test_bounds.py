"""Files that ask for more work than any honest one: refused in words before the work is done."""

from __future__ import annotations

import time
from typing import Any

import pytest

from planner.errors import InputError
from planner.model.catalogue import Catalogue
from planner.reading import MOST_COMMAS, MOST_PARTS, toml
from planner.store.dayfile import resolve_day
from planner.store.documents import parse_toml
from planner.store.lanefile import resolve_lane
from planner.store.schema import MAX_ERRORS, MAX_FAULTS, schema_faults
from planner.store.tripfile import faults

MANY = 100_000
MOST_CPU_S = 8.0
"""On the slowest and busiest machine; a second here."""


@pytest.mark.parametrize(
    "text",
    [
        "a." * MANY + "a = 1",
        "[" + "a." * MANY + "a]",
        'x = {"a" . ' + " 'b' . " * MANY + "a = 1}",
        "x = [" + "1," * (MOST_COMMAS + 1) + "]",
        "x = " + "9" * MANY,
    ],
    ids=["name", "table", "quoted", "list", "number"],
)
def test_a_text_that_would_be_read_for_minutes_is_told(text: str) -> None:
    began = time.process_time()
    with pytest.raises(InputError, match="a value cannot be read"):
        parse_toml(text, "trip.toml")
    assert time.process_time() - began < MOST_CPU_S


@pytest.mark.parametrize(
    "text",
    [
        f"title = '{'A sentence. ' * 2 * MOST_PARTS}'",
        "x = 1 # " + "." * 5 * MOST_PARTS,
        "x = 1 # " + "a." * 5 * MOST_PARTS,
        "x = [" + "1.5, " * 5 * MOST_PARTS + "]",
        ".".join("abcdefghij") + " = 1",
    ],
    ids=["prose", "points", "remark", "figures", "ten parts"],
)
def test_points_in_what_people_write_are_no_fault(text: str) -> None:
    assert toml(text)


@pytest.mark.parametrize(
    "draft",
    [
        {"load": [{}] * MANY},
        {"vehicle": {"places": ["no such place"] * MANY}},
        {"vehicle": {"places": [1] * MANY}},
        {"vehicle": {"places": [[]] * MANY}},
        {"stops": [{"a": {}}] * MANY},
        {"stops": [7] * 150, "load": [{}]},
    ],
    ids=["empty tables", "texts", "numbers", "lists", "tables", "more faults than are told"],
)
def test_a_draft_of_very_many_faults_is_told_soon_and_read_no_further(
    draft: dict[str, Any], catalogue: Catalogue
) -> None:
    """What lies beyond the faults that are told may be broken too: nothing of it is read."""
    began = time.process_time()
    found = faults(draft, catalogue)
    assert found
    assert len(found) <= MAX_FAULTS + 1
    assert found[-1].field in ("", "vehicle.places", "load", "stops")
    assert "Error" not in str(found[-1])
    assert time.process_time() - began < MOST_CPU_S


def test_days_and_lanes_of_very_many_faults_are_read_no_further(catalogue: Catalogue) -> None:
    rows = [{f"nonsense {number}": 1 for number in range(200)}]
    with pytest.raises(InputError) as day:
        resolve_day({"buyers": rows, "boxes": rows}, catalogue)
    with pytest.raises(InputError) as lane:
        resolve_lane({"stages": rows}, catalogue)
    for error in (day.value, lane.value):
        assert "more faults" in str(error.faults[-1])
        assert "Error" not in str(error)


def test_how_many_faults_are_not_told_is_said_as_far_as_known() -> None:
    few = schema_faults({"load": [{"boxes": [7] * (MAX_FAULTS + 20)}]}, "trip.schema.json")
    many = schema_faults({"load": [{"boxes": [7] * (MAX_ERRORS + 20)}]}, "trip.schema.json")
    assert few[-1].problem[0].isdigit()
    assert many[-1].problem.startswith("many more")
