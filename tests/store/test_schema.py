"""From a broken rule of a schema to words a person can act on."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from planner.errors import Fault
from planner.store.schema import (
    _Validator,
    deprecated,
    did_you_mean,
    field_name,
    nearest,
    schema_faults,
    shown,
)

TRIP = "trip.schema.json"


def group(**changed: Any) -> dict[str, Any]:
    return {"label": "Nucs", "count": 4, "box_type": "national_nuc5_ply", **changed}


def faults_of(draft: dict[str, Any], **changed: Any) -> list[Fault]:
    """The faults of a draft with some tables changed; ``...`` takes one out."""
    made = {key: value for key, value in {**draft, **changed}.items() if value is not ...}
    return schema_faults(made, TRIP)


def test_a_path_is_named_as_people_read_it() -> None:
    assert field_name(("load", 2, "frames_of_bees")) == "load[2].frames_of_bees"
    assert field_name(("road", "points", 0, 1)) == "road.points[0][1]"
    assert field_name(()) == ""


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (True, "true"),
        (False, "false"),
        (1, "1"),
        (10**20, "1" + "0" * 20),
        (10**20 + 1, "a very long number"),
        (-(10**20) - 1, "a very long number"),
        (2.5, "2.5"),
        ("text", "text"),
        (["a", 1], "['a', 1]"),
        ({"a": 1}, "{'a': 1}"),
        ("x" * 60, "x" * 60),
        ("x" * 61, "x" * 57 + "..."),
    ],
)
def test_a_value_is_shown_short(value: Any, text: str) -> None:
    assert shown(value) == text


@pytest.mark.parametrize(
    ("word", "near"),
    [
        ("screens", "screen"),
        ("SOLID", "solid"),
        ("sol", "solid"),
        ("xyz", None),
        ("", None),
        ("s" * 900, None),
    ],
)
def test_the_nearest_known_name_is_found_if_any_is_like_it(word: str, near: str | None) -> None:
    assert nearest(word, ["solid", "screen", "shaded_screen"]) == near


def test_half_alike_is_like_enough() -> None:
    """Two letters of four and four: a ratio of 0.5; one of them is not."""
    assert nearest("abxx", ["abyy"]) == "abyy"
    assert nearest("axxx", ["ayyy"]) is None


def test_where_nothing_is_near_all_names_are_offered_up_to_forty() -> None:
    assert did_you_mean("xyz", ["b", "a"]) == "Choose one of a, b"
    assert did_you_mean("screens", ["screen"]) == 'Did you mean "screen"?'
    names = [f"n{number:02}" for number in range(41)]
    assert did_you_mean("x", names[:40]) == "Choose one of " + ", ".join(names[:40])
    assert did_you_mean("x", names) == "Choose one of " + ", ".join(names[:40]) + " ..."


@pytest.mark.parametrize(
    ("changed", "field", "value", "problem"),
    [
        ({"count": 0}, "load[0].count", "0", "this is below 1"),
        ({"count": 5001}, "load[0].count", "5001", "this is above 5000"),
        ({"count": 2.5}, "load[0].count", "2.5", "this must be a whole number"),
        ({"count": True}, "load[0].count", "true", "this must be a whole number"),
        ({"frames_of_bees": 0}, "load[0].frames_of_bees", "0", "this must be above 0"),
        ({"frames_of_bees": "five"}, "load[0].frames_of_bees", "five", "this must be a number"),
        ({"label": ""}, "load[0].label", "", "this is empty"),
        ({"label": 7}, "load[0].label", "7", "this must be text"),
        ({"label": "x" * 81}, "load[0].label", "x" * 57 + "...", "this is longer than 80 letters"),
        ({"roof": "tin"}, "load[0].roof", "tin", "this word is not known here"),
        ({"side_vents_open": 1}, "load[0].side_vents_open", "1", "this must be true or false"),
        ({"misting": 3}, "load[0].misting", "3", "this must be a table of names and values"),
        ({"loaded_at": []}, "load[0].loaded_at", "[]", "this must be text or a whole number"),
        (
            {"closing": {"rule": "clock", "clock": "9 pm"}},
            "load[0].closing.clock",
            "9 pm",
            "this is not written as expected",
        ),
        ({"misting": {"ml": 5, "first_minutes": 1}}, "load[0].misting.every_minutes", "", "this is missing"),
        ({"colour": "red"}, "load[0].colour", "red", "this name is not known here"),
    ],
)
def test_each_rule_has_its_words(
    draft: dict[str, Any], changed: dict[str, Any], field: str, value: str, problem: str
) -> None:
    (fault,) = faults_of(draft, load=[group(**changed)])
    assert (fault.field, fault.value, fault.problem) == (field, value, problem)


@pytest.mark.parametrize(
    ("changed", "problem"),
    [
        ({"load": []}, "at least 1 must be listed"),
        ({"stops": [{}] * 201}, "more than 200 are listed"),
        ({"load": {}}, "this must be a list"),
        ({"version": 2}, "this must be 1"),
    ],
)
def test_lists_and_versions_have_theirs(draft: dict[str, Any], changed: dict[str, Any], problem: str) -> None:
    assert problem in {fault.problem for fault in faults_of(draft, **changed)}


def test_remedies_come_from_the_schema_or_name_the_nearest_word(draft: dict[str, Any]) -> None:
    remedies = {
        fault.field: fault.remedy
        for fault in faults_of(draft, title=..., load=[group(count=0, roof="screens", labl="x", comb="blue")])
    }
    assert remedies == {
        "title": "Give the trip a title",
        "load[0].count": "Enter a whole number from 1 to 5000",
        "load[0].roof": 'Did you mean "screen"?',
        "load[0].labl": 'Did you mean "label"?',
        "load[0].comb": "Choose one of new, old",
    }


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_numbers_without_end_are_refused_wherever_they_stand(draft: dict[str, Any], value: float) -> None:
    found = faults_of(draft, road={"points": [[52, -1, 0], [52.6, value, 90]]})
    assert (
        Fault("road.points[1][1]", str(value), "this is not a finite number", "Enter an ordinary number")
        in found
    )


def nested(levels: int, lists: bool) -> dict[str, Any]:
    """Tables, or lists in one table, so many levels deep."""
    made: Any = [] if lists else {}
    for _ in range(levels - 2):
        made = [made] if lists else {"a": made}
    return {"a": made}


@pytest.mark.parametrize("lists", [True, False])
def test_tables_and_lists_nest_twenty_four_deep_and_no_deeper(lists: bool) -> None:
    too_deep = "the tables are nested too deep"
    assert too_deep not in {fault.problem for fault in schema_faults(nested(24, lists), TRIP)}
    assert [fault.problem for fault in schema_faults(nested(25, lists), TRIP)] == [too_deep]


def test_a_hundred_faults_are_listed_and_the_rest_counted(draft: dict[str, Any]) -> None:
    for count, listed, last in ((100, 100, "below 1"), (101, 101, "1 more faults"), (150, 101, "50 more")):
        found = faults_of(draft, load=[group(label=str(at), count=0) for at in range(count)])
        assert len(found) == listed
        assert last in found[-1].problem


def test_a_name_of_any_length_is_cut_to_eighty_letters(draft: dict[str, Any]) -> None:
    (fault,) = faults_of(draft, **{"x" * 200: 1})
    assert fault.field == "x" * 80


def test_the_names_that_nothing_reads_any_more() -> None:
    assert deprecated(TRIP) == {"frame_direction"}
    assert deprecated("catalogue.schema.json") == {"empty_kg"}


def test_what_is_too_long_is_to_be_shortened(draft: dict[str, Any]) -> None:
    """The remedy of a title of 300 letters was: give the trip a title."""
    (fault,) = faults_of(draft, title="x" * 300)
    assert fault.remedy == "Shorten it to 200 letters"


def _told(validator: Any, value: Any) -> list[tuple[Any, ...]]:
    return [
        (list(error.absolute_path), error.validator, error.message) for error in validator.iter_errors(value)
    ]


_CELLS = st.one_of(
    st.integers(-12, 12),
    st.floats(-12, 12),
    st.sampled_from([math.nan, math.inf, True, None, "1", 10**30, 9.5, {}]),
)
_RULES = [
    {"type": "array", "items": rule, **ends}
    for number in ({"type": "number", "minimum": -10, "maximum": 10}, {"type": "number"}, {"type": "integer"},
                   {"type": "number", "exclusiveMinimum": 0}, {"type": ["number", "null"]})
    for ends in ({}, {"minItems": 2, "maxItems": 4}, {"uniqueItems": True}, {"prefixItems": [{"type": "string"}]})
    for rule in (number, {"type": "array", "items": number, "minItems": 1, "maxItems": 2}, {"type": "array"}, True)
]  # fmt: skip


@given(st.sampled_from(_RULES), st.lists(st.one_of(_CELLS, st.lists(_CELLS, max_size=3)), max_size=5))
def test_lists_of_plain_numbers_are_judged_as_the_library_judges_them(
    rule: dict[str, Any], value: Any
) -> None:
    """The short way through long roads: whatever the list, the same faults in the same order."""
    assert _told(_Validator(rule), value) == _told(Draft202012Validator(rule), value)
