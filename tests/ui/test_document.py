"""The draft, its undo and its dirty mark."""

from __future__ import annotations

import copy
from pathlib import Path

import pytest

from planner.ui.trip.document import MISSING, Document


@pytest.fixture
def document(qapp) -> Document:
    made = Document()
    made.open(
        {"title": "a", "load": [{"count": 1}, {"count": 2}], "road": {"legs": []}, "origin": {"name": "x"}},
        None,
    )
    return made


def test_every_edit_can_be_undone_and_done_again(document: Document) -> None:
    document.edit(("load", 1, "count"), 9)
    document.edit(("title",), "b")
    document.stack.undo()
    document.stack.undo()
    assert document.draft["load"][1]["count"] == 2
    assert document.draft["title"] == "a"
    document.stack.redo()
    assert document.draft["load"][1]["count"] == 9


def test_a_value_that_was_missing_is_missing_again_after_undo(document: Document) -> None:
    document.edit(("arrival", "before_light"), True)
    assert document.get(("arrival", "before_light")) is True
    document.stack.undo()
    assert document.get(("arrival", "before_light")) is None


def test_taking_a_value_out_can_be_undone(document: Document) -> None:
    document.edit(("origin",), MISSING)
    assert "origin" not in document.draft
    document.stack.undo()
    assert document.draft["origin"] == {"name": "x"}


def test_a_slider_drawn_is_one_step_of_undo(document: Document) -> None:
    for count in range(3, 30):
        document.edit(("load", 0, "count"), count)
    assert document.stack.count() == 1
    document.stack.undo()
    assert document.draft["load"][0]["count"] == 1


def test_changes_of_lists_are_never_melted_into_one(document: Document) -> None:
    document.edit(("load",), [{"count": 1}])
    document.edit(("load",), [{"count": 1}, {"count": 5}])
    document.stack.undo()
    assert document.draft["load"] == [{"count": 1}]


def test_an_edit_that_changes_nothing_leaves_no_step(document: Document) -> None:
    document.edit(("title",), "a")
    document.edit(("nowhere",), MISSING)
    assert document.stack.count() == 0
    assert not document.dirty


def test_a_list_handed_in_anew_with_the_same_in_it_leaves_no_step(document: Document) -> None:
    count = document.stack.count()
    document.edit(("load",), copy.deepcopy(document.get(("load",))))
    assert document.stack.count() == count


def test_what_was_recovered_is_there_to_lose_until_it_is_saved(document: Document, tmp_path: Path) -> None:
    document.open({"title": "left behind"}, None, recovered=True)
    assert document.dirty
    document.saved(tmp_path / "trip.toml")
    assert not document.dirty


def test_a_new_way_takes_the_old_road_away_and_undo_brings_it_back(document: Document) -> None:
    document.edit_places({"origin": {"name": "y"}})
    assert document.draft["road"] == {"legs": []}, "another name is no other way"
    document.stack.undo()
    document.edit_places({"origin": {"name": "y", "lat": 52.0, "lon": -2.0}})
    assert "road" not in document.draft
    document.stack.undo()
    assert document.draft["road"] == {"legs": []}
    assert document.draft["origin"] == {"name": "x"}


def test_saving_clears_the_dirty_mark_and_undo_past_it_sets_it_again(
    document: Document, tmp_path: Path
) -> None:
    document.edit(("title",), "b")
    assert document.dirty
    document.saved(tmp_path / "b.toml")
    assert not document.dirty
    document.stack.undo()
    assert document.dirty


def test_the_draft_shares_nothing_with_what_was_handed_in(document: Document) -> None:
    load = [{"count": 7}]
    document.edit(("load",), load)
    load[0]["count"] = 99
    assert document.draft["load"][0]["count"] == 7


def test_to_say_something_first_and_to_take_it_out_are_steps_of_their_own(document: Document) -> None:
    spot = ("arrival", "before_light")
    for value in (True, False):
        document.edit(spot, value)
    assert document.stack.count() == 2
    document.stack.undo()
    assert document.get(spot) is True
    document.edit(spot, MISSING)
    document.edit(spot, False)
    assert document.stack.count() == 3
    document.stack.undo()
    assert document.get(spot) is None
