"""Names of boxes: short, and with a last letter that no slip of the ear or the hand keeps."""

from __future__ import annotations

from itertools import islice

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.model.box_names import CHECK, FIRST, box_name, check_letter, fault_of, free_names

names = st.builds(box_name, st.integers(0, 99_999), st.sampled_from(FIRST))


def test_the_check_letter_is_that_of_an_identity_card() -> None:
    """Spain's published example, 12345678Z: the remainder of 12345678 by 23 is 14. The first letter A counts 0."""
    assert check_letter("A", "12345678") == "Z"
    assert len(set(CHECK)) == len(set(FIRST)) == 23


def test_a_name_is_five_letters_and_figures_up_to_a_thousand_boxes() -> None:
    assert {len(box_name(number)) for number in (1, 23, 999)} == {5}
    assert fault_of(box_name(23)) is None


@given(names, st.integers(0, 6), st.sampled_from(FIRST + "0123456789"))
def test_one_slip_is_always_caught(name: str, at: int, other: str) -> None:
    at %= len(name)
    slipped = name[:at] + other + name[at + 1 :]
    assert (fault_of(slipped) is None) == (slipped == name)


@given(names, st.integers(0, 6))
def test_two_neighbours_swapped_are_always_caught(name: str, at: int) -> None:
    at %= len(name) - 1
    swapped = name[:at] + name[at + 1] + name[at] + name[at + 2 :]
    assert (fault_of(swapped) is None) == (swapped == name)


@pytest.mark.parametrize(
    "text", ["", "B", "23", "B23", "b023W", "B-23W", "I001R", "B123456A", "B०23W", "B023W "]
)
def test_what_is_no_name_is_told(text: str) -> None:
    assert fault_of(text) is not None


def test_new_names_pass_over_those_that_are_taken() -> None:
    taken = [box_name(1), box_name(3)]
    assert list(islice(free_names(taken), 2)) == [box_name(2), box_name(4)]
