"""What is typed of boxes: words and figures, a list that was printed, every fault with its line."""

from __future__ import annotations

import pytest

from planner.app.inspect.items import NOT_OK, OK, Finding, item_of, items
from planner.app.inspect.typed import finding_of, found_in, measured, table_csv, typed_in
from planner.errors import InputError
from planner.model.box_names import box_name
from planner.words import say
from tests.model.scenarios import NUC

BOXES = [box_name(number) for number in (1, 2, 3)]


def test_an_empty_list_says_nothing_of_any_box() -> None:
    """Nothing is ok by default: what nobody wrote down was not looked at."""
    assert typed_in(table_csv(dict.fromkeys(BOXES, items())).encode(), BOXES) == {}


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_a_list_is_read_by_the_items_names_and_by_the_heads_of_the_printed_one(separator: str) -> None:
    heads = ["Box", say("checks.short_floor"), "straps", say("checks.short_screen"), "remark"]
    rows = [heads, [BOXES[0], "40 %", "ok", "x", "gum in one corner"], [BOXES[2], "", "✓", "", ""]]
    text = "\ufeff" + "\r\n".join(separator.join(row) for row in rows)
    assert typed_in(text.encode(), BOXES) == {
        BOXES[0]: {
            "floor": Finding(OK, 40.0),
            "straps": Finding(OK),
            "screen": Finding(NOT_OK, None, "eye", "gum in one corner"),
        },
        BOXES[2]: {"straps": Finding(OK)},
    }


def test_every_fault_is_named_with_its_line_and_nothing_is_taken_in() -> None:
    text = f"box,floor,straps\n{BOXES[0]},400,ok\nB999A,1,ok\n{BOXES[1]},1,perhaps\n{BOXES[1]},2,ok\n"
    with pytest.raises(InputError) as caught:
        typed_in(text.encode(), BOXES, "list.csv")
    assert [fault.field for fault in caught.value.faults] == ["2.floor", "3.box", "4.straps", "5.box"]


@pytest.mark.parametrize(
    "text", [b"", b"floor,straps\n1,ok\n", b"box,flour\nB001N,1\n", b"\x00\xff\xfe", b"box\n" + b"x\n" * 6000]
)
def test_what_is_no_list_ends_in_words(text: bytes) -> None:
    with pytest.raises(InputError):
        typed_in(text, BOXES)


def test_a_cross_may_stand_before_its_figure() -> None:
    assert finding_of("floor", "x 60") == Finding(NOT_OK, 60.0)
    assert finding_of("strength", "5,5") == Finding(OK, 5.5)


def test_a_figure_is_held_against_the_plan() -> None:
    told = measured(found_in(["strength=9", "floor=ok"]), NUC)
    assert told["strength"].state == NOT_OK
    assert told["floor"] == Finding(OK, 100.0 * NUC.floor_blocked_share)


def test_the_list_has_no_column_that_no_box_is_asked_about() -> None:
    asked = {"B1": [item for item in items() if item.name in ("straps", "can")], "B2": [item_of("leak")]}
    assert table_csv(asked).splitlines() == ["box,straps,can,leak,remark", "B1,,,,", "B2,,,,"]


def test_the_list_has_a_column_for_every_item() -> None:
    head = table_csv({"B1": items()}).splitlines()[0].split(",")
    assert head == ["box", *(item.name for item in items()), "remark"]
