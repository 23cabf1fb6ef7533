"""The day file and its tables: what they mean, and every bad input in words that name row, field and remedy."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest

from planner.bundled import resource_path
from planner.errors import InputError
from planner.store.catalogue import load_catalogue
from planner.store.dayfile import load_day, read_day, resolve_day, write_day
from planner.store.daytable import read_rows
from planner.store.schema import schema

DEMO = resource_path("demo", "day", "collection-day.toml")


def plain() -> dict[str, Any]:
    """A day with two buyers and three boxes."""
    draft = read_day(DEMO)
    for key in ("buyers_file", "boxes_file"):
        del draft[key]
    draft["buyers"] = [
        {"name": "Ada", "drive_minutes": 40, "boxes": 2, "times": "05:00-08:00; 18:30-20:00"},
        {"name": "Bo", "drive_minutes": 90, "wish": "06:30", "vehicle": "van"},
    ]
    draft["boxes"] = [{"id": "B001J"}, {"id": "B002Z", "frames_of_bees": 3}, {"id": "B003S"}]
    return draft


def faults_of(draft: dict[str, Any]) -> list[tuple[str, str, str]]:
    with pytest.raises(InputError) as caught:
        resolve_day(draft, load_catalogue())
    return [(fault.field, fault.problem, fault.remedy) for fault in caught.value.faults]


def test_the_demo_day_has_44_buyers_and_58_boxes() -> None:
    day = load_day(DEMO, load_catalogue())
    assert (len(day.buyers), len(day.boxes)) == (44, 58)
    assert sum(buyer.boxes for buyer in day.buyers) <= 58
    assert len({buyer.rides for buyer in day.buyers}) > 5
    assert day.boxes[0].group.frames_of_bees == 3.0 or day.boxes[0].group.frames_of_bees > 0


def test_a_row_says_what_is_different_from_the_usual_box() -> None:
    day = resolve_day(plain(), load_catalogue())
    assert [box.group.frames_of_bees for box in day.boxes] == [4.5, 3.0, 4.5]
    assert day.buyers[0].spans[1][1] - day.buyers[0].spans[0][0] == 15 * 3600.0
    assert day.buyers[1].rides == "van_shut_white"
    assert len(day.slots.begin_s) == 20 + 12


BAD: dict[str, tuple[Any, str, str]] = {
    "a buyer twice": (
        lambda d: d["buyers"][1].update(name="ADA "),
        "buyers[1].name",
        "has this name already",
    ),
    "no drive": (lambda d: d["buyers"][0].pop("drive_minutes"), "buyers[0].drive_minutes", "no drive"),
    "a negative drive": (
        lambda d: d["buyers"][0].update(drive_minutes=-5),
        "buyers[0].drive_minutes",
        "above 0",
    ),
    "more boxes wanted than there are": (
        lambda d: d["buyers"][1].update(boxes=5),
        "buyers[1].boxes",
        "the buyers want 7 boxes, 3 are listed",
    ),
    "two buyers for one box": (
        lambda d: (d["buyers"][1].update(box="B001J"), d["buyers"][0].update(box="B001J B002Z")),
        "buyers[1].box",
        "was promised this box already",
    ),
    "a box nobody has": (
        lambda d: d["buyers"][1].update(box="B009R"),
        "buyers[1].box",
        "no box has this name",
    ),
    "slots outside the day": (
        lambda d: d["slots"].update(spans=["22:00-05:00"]),
        "slots.spans[0]",
        "ends before it begins",
    ),
    "a slot at 25:00": (lambda d: d["slots"].update(spans=["22:00-25:00"]), "slots.spans[0]", "not written"),
    "spans that overlap": (
        lambda d: d["slots"].update(spans=["05:00-08:00", "07:05-09:00"]),
        "slots.spans",
        "overlap",
    ),
    "a span too short for a slot": (
        lambda d: d["slots"].update(spans=["05:00-05:10"]),
        "slots.spans[0]",
        "no whole slot",
    ),
    "hands of 0": (lambda d: d["hands"].update(people=0), "hands.people", "below 1"),
    "screens promised beyond the stock": (
        lambda d: (d["stock"].update(roof_screens=1), d["buyers"][0].update(setup="roof_screen")),
        "buyers[0].setup",
        "2 roof screens are promised, the stock is 1",
    ),
    "times in which no slot lies": (
        lambda d: d["buyers"][0].update(times="12:00-13:00"),
        "buyers[0].times",
        "no slot of the day",
    ),
    "a told hour that is no slot": (
        lambda d: d["buyers"][0].update(told="05:07"),
        "buyers[0].told",
        "no slot begins",
    ),
    "an unknown vehicle": (
        lambda d: d["buyers"][0].update(vehicle="vann"),
        "buyers[0].vehicle",
        "no loading place",
    ),
    "an unknown key": (lambda d: d["buyers"][0].update(drive=4), "buyers[0].drive", "not known here"),
    "a box twice": (lambda d: d["boxes"][1].update(id="B001J"), "boxes[1].id", "has this name already"),
    "bees that do not fit": (
        lambda d: d["boxes"][1].update(frames_of_bees=40),
        "boxes[1].frames_of_bees",
        "takes 5 frames",
    ),
    "a day no calendar has": (lambda d: d.update(date="2027-02-30"), "date", "no such day"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_input_names_field_and_remedy(name: str) -> None:
    change, field, problem = BAD[name]
    draft = plain()
    change(draft)
    found = faults_of(draft)
    assert any(
        f == field and problem in p and (r.endswith("...") or r[-1:] not in ".!") for f, p, r in found
    ), found


def test_a_version_still_to_come_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "day.toml"
    path.write_text(DEMO.read_text("utf-8").replace("version = 1", "version = 2"), "utf-8")
    with pytest.raises(InputError, match="version 2"):
        read_day(path)


def test_what_was_written_is_read_again(tmp_path: Path) -> None:
    draft = plain()
    write_day(draft, tmp_path / "day.toml")
    assert read_day(tmp_path / "day.toml") == draft


# -- tables ------------------------------------------------------------------------------------------


def test_columns_are_found_by_name_with_decimal_commas() -> None:
    rows = read_rows("id;frames of bees;check\nB001J;3,5;ok\n\nB002Z;4;\n", "box")
    assert rows.tables == (
        {"id": "B001J", "frames_of_bees": 3.5, "check": "ok"},
        {"id": "B002Z", "frames_of_bees": 4},
    )
    assert rows.lines == (2, 4)


@pytest.mark.parametrize("separator", ["\t", ";", ","])
def test_what_is_copied_from_a_spreadsheet_is_read(separator: str) -> None:
    text = separator.join(["Name", "Drive minutes", "Cooling"]) + "\n" + separator.join(["Ada", "40", "yes"])
    assert read_rows(text, "buyer").tables == ({"name": "Ada", "drive_minutes": 40, "cooling": True},)


BAD_TABLES = {
    "other columns": ("name;miles\nAda;3", "column miles", "no such column"),
    "no names": ("drive_minutes;boxes\n3;1", "column name", "this column is missing"),
    "a column twice": ("name;name\nAda;Bo", "column name", "stands twice"),
    "a word for a number": ("name;drive_minutes\nAda;soon", "line 2, drive_minutes", "cannot be read"),
    "thousands": ("name;drive_minutes\nAda;1.234,5", "line 2, drive_minutes", "cannot be read"),
    "too many cells": ("name;boxes\nAda;1;2;3", "line 2", "4 cells under 2"),
    "nothing": ("\n\n", "", "no table"),
    "maybe": ("name;cooling\nAda;maybe", "line 2, cooling", "cannot be read"),
}


@pytest.mark.parametrize("name", BAD_TABLES)
def test_a_bad_table_names_line_and_column(name: str) -> None:
    text, field, problem = BAD_TABLES[name]
    with pytest.raises(InputError) as caught:
        read_rows(text, "buyer")
    assert any(f.field == field and problem in f.problem and f.remedy for f in caught.value.faults)


def test_10_000_rows_are_refused_in_words() -> None:
    text = "name;drive_minutes\n" + "".join(f"Buyer {n};30\n" for n in range(10_000))
    with pytest.raises(InputError, match=r"10,000 rows") as caught:
        read_rows(text, "buyer")
    assert "days" in caught.value.faults[0].remedy


def test_a_fault_of_a_csv_row_is_named_by_its_line(tmp_path: Path) -> None:
    draft = plain()
    del draft["buyers"]
    (tmp_path / "who.csv").write_text("name;drive_minutes\nAda;40\nBo;-3\n", "utf-8")
    draft["buyers_file"] = "who.csv"
    with pytest.raises(InputError) as caught:
        resolve_day(draft, load_catalogue(), tmp_path)
    assert caught.value.faults[0].field == "who.csv line 3, drive_minutes"


BAD_CSV = {
    "a buyer twice": (
        "name;drive_minutes\nAda;40\nAda;30\n",
        "line 3, name",
        "who.csv line 2 has this name already",
    ),
    "no drive": ("name;boxes\nAda;1\n", "line 2, drive_minutes", "Ada has no drive"),
    "a row that breaks off": ("name;drive_minutes\nAda;40\nBo", "line 3, drive_minutes", "Bo has no drive"),
    "more boxes wanted than there are": (
        "name;drive_minutes;boxes\nAda;40;5\n",
        "line 2, boxes",
        "the buyers want 5 boxes, 3 are listed",
    ),
    "two buyers for one box": (
        "name;drive_minutes;box\nAda;40;B001J\nBo;30;B001J\n",
        "line 3, box",
        "Ada was promised this box already",
    ),
    "half a box": ("name;drive_minutes;boxes\nAda;40;1,5\n", "line 2, boxes", "a whole number"),
    "screens promised beyond the stock": (
        "name;drive_minutes;setup;boxes\nAda;40;roof_screen;1\n",
        "line 2, setup",
        "1 roof screen is promised, the stock is 0",
    ),
}


@pytest.mark.parametrize("name", BAD_CSV)
def test_bad_rows_of_a_csv_are_named_by_line_and_column(name: str, tmp_path: Path) -> None:
    text, field, problem = BAD_CSV[name]
    draft = plain()
    del draft["buyers"]
    draft["stock"]["roof_screens"] = 0
    (tmp_path / "who.csv").write_text(text, "utf-8")
    draft["buyers_file"] = "who.csv"
    with pytest.raises(InputError) as caught:
        resolve_day(draft, load_catalogue(), tmp_path)
    faults = caught.value.faults
    assert any(f.field == f"who.csv {field}" and problem in f.problem and f.remedy for f in faults), faults


def test_too_many_rows_of_a_csv_are_told_with_the_file(tmp_path: Path) -> None:
    draft = plain()
    rows = "".join(f"Buyer {n};30\n" for n in range(10_000))
    (tmp_path / "who.csv").write_text("name;drive_minutes\n" + rows, "utf-8")
    draft["buyers_file"] = "who.csv"
    with pytest.raises(InputError, match=r"who\.csv.*10,000 rows, a day holds at most 400"):
        resolve_day(draft, load_catalogue(), tmp_path)


def test_decimal_commas_of_a_csv_are_minutes(tmp_path: Path) -> None:
    draft = plain()
    del draft["buyers"]
    (tmp_path / "who.csv").write_text("name;drive_minutes\nAda;40,5\n", "utf-8")
    draft["buyers_file"] = "who.csv"
    assert resolve_day(draft, load_catalogue(), tmp_path).buyers[0].drive_s == 40.5 * 60.0


def test_a_csv_outside_the_folder_is_refused(tmp_path: Path) -> None:
    draft = plain()
    draft["boxes_file"] = "../elsewhere.csv"
    with pytest.raises(InputError, match="outside the folder"):
        resolve_day(draft, load_catalogue(), tmp_path)


def test_the_make_up_of_a_box_is_that_of_a_trip() -> None:
    """The day's schema repeats the rules of a group; they must not drift apart."""
    group = schema("trip.schema.json")["$defs"]["group"]["properties"]
    for name in ("day.schema.json", "lane.schema.json"):
        usual = schema(name)["properties"]["box"]["properties"]
        for key, rule in usual.items():
            assert json.dumps(rule, sort_keys=True) == json.dumps(group[key], sort_keys=True), (name, key)
    weather = schema("trip.schema.json")["properties"]["weather"]
    assert schema("day.schema.json")["properties"]["weather"] == weather


def test_nothing_of_a_draft_is_changed_by_reading_it() -> None:
    draft = plain()
    before = copy.deepcopy(draft)
    resolve_day(draft, load_catalogue())
    assert draft == before
