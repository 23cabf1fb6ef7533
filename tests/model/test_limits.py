"""Which limits a box has, and how histories made by hand are judged against them."""

from __future__ import annotations

from planner.model.limits import CAUTION, HARM, limits_of
from tests.model.scenarios import typical


def drawn(has_brood: bool, has_comb: bool, new_comb: bool) -> dict[str, tuple[str, float, int, str]]:
    return {
        one.name: (one.field, one.at_c, one.level, one.side)
        for one in limits_of(has_brood, has_comb, new_comb, typical())
    }


def test_a_box_with_brood_is_held_to_the_limits_of_brood() -> None:
    """The rows of the table: brood 37 and 40, queen 38, workers 45, old comb 42 and 45, chilled brood 30 and 20."""
    assert drawn(has_brood=True, has_comb=True, new_comb=False) == {
        "brood_caution": ("core", 37.0, CAUTION, "above"),
        "queen_caution": ("core", 38.0, CAUTION, "above"),
        "brood_danger": ("core", 40.0, HARM, "above"),
        "worker_danger": ("core", 45.0, HARM, "above"),
        "comb_caution": ("stores", 42.0, CAUTION, "above"),
        "comb_danger": ("stores", 45.0, HARM, "above"),
        "chill_caution": ("core", 30.0, CAUTION, "below"),
        "chill_danger": ("core", 20.0, HARM, "below"),
    }


def test_a_swarm_has_no_limit_of_brood_or_comb() -> None:
    """Its bees are warned of at 42 and die at 45; chill coma at 12 and 8."""
    assert drawn(has_brood=False, has_comb=False, new_comb=True) == {
        "queen_caution": ("core", 38.0, CAUTION, "above"),
        "worker_caution": ("core", 42.0, CAUTION, "above"),
        "worker_danger": ("core", 45.0, HARM, "above"),
        "chill_caution": ("core", 12.0, CAUTION, "below"),
        "chill_danger": ("core", 8.0, HARM, "below"),
    }


def test_new_comb_sags_earlier() -> None:
    new = drawn(has_brood=True, has_comb=True, new_comb=True)
    assert new["comb_caution"][1] == 37.0
    assert new["comb_danger"][1] == 41.0
