"""Profiles: catalogue rows with a head, written and read whole, named by what they are about."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from planner.errors import InputError, StorageError
from planner.store.catalogue import load_catalogue, table_mark
from planner.store.profiles import Profile, profile_path, read_profile, write_profile

MINE = Profile(
    about="box_type",
    name="dadant_pine",
    made_on="2027-05-16",
    trips=("Spring move, a.csv", "Autumn move, b.csv"),
    rows={
        "box_types": {"dadant_pine": {"leak_l_s": [0.2, 0.1, 0.3]}},
        "parameters": {"fan_start_c": {"value": 35.5}},
    },
    notes=("two loggers",),
    table=table_mark(),
)


@pytest.mark.parametrize("profile", [MINE, replace(MINE, about="yard", name="Öst", notes=())])
def test_a_profile_comes_back_as_it_was_written(tmp_path: Path, profile: Profile) -> None:
    path = tmp_path / "deep" / "mine.toml"
    write_profile(profile, path)
    assert read_profile(path) == profile
    assert ("notes" in path.read_text("utf-8")) == bool(profile.notes)


def test_a_profile_lies_over_the_catalogue_like_any_file_of_the_users(tmp_path: Path) -> None:
    write_profile(MINE, tmp_path / "mine.toml")
    assert load_catalogue(tmp_path / "mine.toml").box_types["dadant_pine"].leak_l_s == (0.2, 0.1, 0.3)


@pytest.mark.parametrize("table", ["", "0123456789abcdef"])
def test_a_profile_of_other_parameters_is_left_out_and_said(tmp_path: Path, table: str) -> None:
    """Fitted under another table, or under one that nobody noted: its factors would be laid on other numbers."""
    write_profile(replace(MINE, table=table), tmp_path / "mine.toml")
    found, bundled = load_catalogue(tmp_path / "mine.toml"), load_catalogue()
    assert found.box_types["dadant_pine"] == bundled.box_types["dadant_pine"]
    (said,) = found.remarks
    assert "mine.toml" in said
    assert "skepway fit" in said
    assert bundled.remarks == ()


def test_the_mark_of_a_table_goes_by_its_figures() -> None:
    assert table_mark() == table_mark()
    assert len(table_mark()) == 16


def test_what_a_head_leaves_out_is_empty(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text('[profile]\nabout = "yard"\nname = 7\n')
    assert read_profile(path) == Profile("yard", "7", "", (), {})


@pytest.mark.parametrize(
    "text",
    [
        "a = 1",
        "profile = 1",
        '[profile]\nname = "x"',
        '[profile]\nabout = "hive"\nname = "x"',
        '[profile]\nabout = "yard"',
    ],
)
def test_a_file_without_its_head_is_no_profile(tmp_path: Path, text: str) -> None:
    (tmp_path / "mine.toml").write_text(text)
    with pytest.raises(InputError, match="this file is no profile"):
        read_profile(tmp_path / "mine.toml")


def test_a_folder_that_cannot_be_made_is_explained(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(StorageError, match="Choose another folder"):
        write_profile(MINE, tmp_path / "file" / "mine.toml")


@pytest.mark.parametrize(
    ("about", "name", "file"),
    [
        ("box_type", "dadant_pine", "box-type-dadant-pine.toml"),
        ("yard", "Upper  Yard (North)", "yard-upper-yard-north.toml"),
        ("yard", "../../etc", "yard-etc.toml"),
        ("yard", "!", "yard-profile.toml"),
    ],
)
def test_a_profile_is_filed_under_what_it_is_about(about: str, name: str, file: str, tmp_path: Path) -> None:
    assert profile_path(tmp_path, about, name) == tmp_path / file  # type: ignore[arg-type]
