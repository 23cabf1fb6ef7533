"""A draft as TOML that a person likes to read: order, lines, comments."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from planner.store.documents import parse_toml
from planner.store.tomltext import toml_text

DRAFT: dict[str, Any] = {
    "load": [{"misting": {"ml": 20}, "label": "Nucs"}, {"label": "Swarm"}],
    "vehicle": {"kind": "van", "places": ["a", "b"]},
    "road": {"points": [[52.0, 0.0, 0.0], [52.0, 1.0, 90.0]]},
    "title": "T",
    "version": 1,
}


def amended(tmp_path: Path, old: str, draft: dict[str, Any]) -> str:
    path = tmp_path / "trip.toml"
    path.write_text(old, "utf-8")
    text = toml_text(draft, path)
    assert parse_toml(text, "trip.toml") == draft
    return text


def test_a_new_file_begins_with_plain_values_and_has_a_line_for_each_vertex(tmp_path: Path) -> None:
    text = toml_text(DRAFT, tmp_path / "none.toml")
    assert parse_toml(text, "t.toml") == DRAFT
    assert text.startswith('title = "T"\nversion = 1\n')
    assert text.count("[[load]]") == 2
    assert '[[load]]\nlabel = "Nucs"\nmisting = {ml = 20}\n' in text
    assert 'places = ["a", "b"]' in text
    assert "points = [\n    [52.0, 0.0, 0.0],\n    [52.0, 1.0, 90.0],\n]" in text


OLD = """# head
title = "T"  # said
count = 1
flag = true

[vehicle]
# what it rides on
kind = "van"

[[load]]
label = "A"  # first
[[load]]
label = "B"  # second
"""
SAME = {
    "title": "T",
    "count": 1,
    "flag": True,
    "vehicle": {"kind": "van"},
    "load": [{"label": "A"}, {"label": "B"}],
}


def test_what_stays_the_same_is_not_touched(tmp_path: Path) -> None:
    assert amended(tmp_path, OLD, SAME) == OLD


@pytest.mark.parametrize(
    ("changed", "before", "after"),
    [
        ({"count": 2}, "count = 1", "count = 2"),
        ({"count": True}, "count = 1", "count = true"),
        ({"flag": 1}, "flag = true", "flag = 1"),
        ({"vehicle": {"kind": "car"}}, 'kind = "van"', 'kind = "car"'),
        ({"load": [{"label": "A"}, {"label": "C"}]}, 'label = "B"', 'label = "C"'),
    ],
)
def test_only_what_differs_is_written_anew(
    tmp_path: Path, changed: dict[str, Any], before: str, after: str
) -> None:
    assert amended(tmp_path, OLD, SAME | changed) == OLD.replace(before, after)


def test_what_is_gone_is_taken_out_and_what_is_new_added(tmp_path: Path) -> None:
    draft = {key: value for key, value in SAME.items() if key != "count"} | {"net": False}
    text = amended(tmp_path, OLD, draft)
    assert "count" not in text
    assert "net = false" in text
    assert "# what it rides on" in text


def test_another_number_of_tables_is_written_anew(tmp_path: Path) -> None:
    for load in ([{"label": "A"}], [{"label": "A"}, {"label": "B"}, {"label": "C"}], []):
        text = amended(tmp_path, OLD, SAME | {"load": load})
        assert "# what it rides on" in text
        assert text.count("[[load]]") == len(load)


@pytest.mark.parametrize("old", ["title = ", "\0", "title = 1\ntitle = 2\n"])
def test_an_old_file_that_cannot_be_read_is_replaced(tmp_path: Path, old: str) -> None:
    assert amended(tmp_path, old, DRAFT) == toml_text(DRAFT, tmp_path / "none.toml")
