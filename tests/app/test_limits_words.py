"""What the limits of a load are called, and which of them belong to what is in its boxes."""

from __future__ import annotations

import re
from typing import Any

import pytest

from planner.app.common.limits_words import (
    contents,
    degrees_text,
    group_limits,
    limit_text,
    peak_limits,
    strictest,
)
from planner.app.common.wording import heat_doubt
from planner.model.catalogue import Catalogue
from planner.model.limits import CAUTION, HARM, Limit
from planner.store.catalogue import load_catalogue
from planner.units import METRIC, US
from tests.model.scenarios import NUC, replace, trip

EMPTY = replace(NUC, open_brood_frames=0.0, sealed_brood_frames=0.0, stores_frames=0.0)


def limit(name: str, at_c: float, level: int, field: Any = "core", side: Any = "above") -> Limit:
    return Limit(name, field, at_c, level, side)


def test_a_limit_is_told_by_its_name_and_its_temperature() -> None:
    caution = limit("brood_caution", 37.0, CAUTION)
    assert limit_text(caution, METRIC) == "brood caution 37 °C"
    assert limit_text(caution, US) == "brood caution 98.6 °F"
    assert limit_text(limit("chill_danger", 10.0, HARM, side="below"), METRIC) == "cold danger below 10 °C"


@pytest.mark.parametrize(
    ("temp_c", "text"),
    [(37.0, "37"), (37.04, "37"), (37.052, "37.1"), (36.96, "37"), (36.94, "36.9"), (-2.5, "-2.5")],
)
def test_a_temperature_has_a_decimal_where_a_whole_degree_would_not_be_true(temp_c: float, text: str) -> None:
    assert degrees_text(temp_c, METRIC) == f"{text} °C"
    assert degrees_text(temp_c, METRIC, unit=False) == text


def test_whole_degrees_are_those_of_the_users_unit() -> None:
    assert [degrees_text(at_c, US) for at_c in (35.0, 37.0, 40.0)] == ["95 °F", "98.6 °F", "104 °F"]


@pytest.mark.parametrize(
    ("more", "brood", "comb", "new"),
    [
        ({}, False, False, True),
        ({"open_brood_frames": 0.5}, True, False, True),
        ({"sealed_brood_frames": 0.5}, True, False, True),
        ({"stores_frames": 0.5}, False, True, True),
        ({"stores_frames": 0.5, "comb": "old"}, False, True, False),
        ({"stores_frames": 0.5, "box_type": "swarm_box_ply"}, False, False, True),
    ],
)
def test_brood_of_either_kind_counts_and_stores_where_there_are_frames(
    more: dict[str, Any], brood: bool, comb: bool, new: bool, catalogue: Catalogue
) -> None:
    assert contents(replace(EMPTY, **more), catalogue) == (brood, comb, new)


def test_every_group_has_the_limits_of_its_own_boxes(catalogue: Catalogue) -> None:
    """A box of brood and new stores, and a swarm on old comb without stores."""
    both = group_limits(trip((NUC, replace(EMPTY, comb="old")), "pickup_bed"), catalogue)
    names = [[one.name for one in each] for each in both]
    assert [one for one in names[0] if one not in names[1]] == [
        "brood_caution",
        "brood_danger",
        "comb_caution",
        "comb_danger",
        "brood_chill",
        "brood_cold",
    ]
    assert [one for one in names[1] if one not in names[0]] == ["worker_caution"]


def test_peaks_are_held_against_the_lowest_limit_of_heat_in_any_core() -> None:
    """Neither the cold nor the comb counts, however low its limit; first the caution, then the danger."""
    worker, queen = limit("worker_caution", 42.0, CAUTION), limit("queen_caution", 38.0, CAUTION)
    danger, brood = limit("worker_danger", 45.0, HARM), limit("brood_danger", 40.0, HARM)
    chill, comb = (
        limit("chill_caution", 20.0, CAUTION, side="below"),
        limit("comb_danger", 36.0, HARM, field="stores"),
    )
    limits = ((worker, danger, chill), (brood, comb, queen))
    assert peak_limits(limits) == (queen, brood)
    assert peak_limits(limits[:1]) == (worker, danger)
    assert peak_limits(((danger, chill, comb),)) == (danger,)
    assert strictest(((chill, comb),), CAUTION) is None
    assert peak_limits(()) == ()


def test_what_is_said_of_the_bees_heat_comes_from_the_table() -> None:
    """1.3 to 3.5 is a factor of 2.7; what judgement leaves, 5 to 95 of 100 boxes, does not span it all.

    Boxes keep within what was published: the scatter between them, laid on top of it, once made the second 1.7.
    """
    said = heat_doubt(load_catalogue().parameters)
    first, second = (float(found) for found in re.findall(r"factor of ([0-9.]+\d)", said))
    assert first == 2.7
    assert 1.5 < second < first, "surer than half of what was published, and never less sure than all of it"
