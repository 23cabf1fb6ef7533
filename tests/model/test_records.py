"""Records that leave something out: equal to whoever says the same, wherever their NaN was made."""

from __future__ import annotations

import ast
import pickle
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pytest

from planner.app.fit.fit import Driven
from planner.model.records import (
    Arrival,
    Closing,
    Group,
    LoadingPlace,
    Moment,
    Site,
    Stage,
    Stated,
    Tolerated,
)
from planner.services.forecast.own import OwnDay
from planner.store.dayrecords import Buyer, SaleBox
from tests.model.scenarios import NUC, trip
from tests.sources import every_module, nodes

HERE = Site("here", 48.0, 8.0, "Europe/Berlin")
MAKERS: tuple[Callable[[float], Stated], ...] = (
    lambda nan: Moment(clock_s=nan, at_s=nan),
    lambda nan: Group("nuc", 3, "nuc", bees_kg=nan, closing=Closing(at_s=nan), opening=Moment(at_s=nan)),
    lambda nan: Closing("clock", clock_s=3600.0, at_s=nan),
    lambda nan: LoadingPlace("van", "Van", "van", set_point_c=nan, heated_c=nan),
    lambda nan: Arrival(latest_s=nan, gate_open_s=nan, gate_shut_s=nan),
    lambda nan: Tolerated(nan, nan),
    lambda nan: Buyer("Ann", 2, nan, "car", wish_s=nan, told_s=nan),
    lambda nan: SaleBox("A", Group("nuc", 1, "nuc", bees_kg=nan), ready_s=nan),
    lambda nan: OwnDay(HERE, 0.0, date(2027, 6, 1), 8.0, 21.0, dew_c=nan, humidity_share=nan),
    lambda nan: Driven(1.0, "van", closed_s=nan, arrived_s=nan),
)


@pytest.mark.parametrize("made", MAKERS, ids=lambda made: type(made(0.0)).__name__)
def test_what_is_left_out_twice_is_left_out_alike(made: Callable[[float], Any]) -> None:
    one, other = made(float("nan")), made(np.float64("nan"))
    assert one == other
    assert one == pickle.loads(pickle.dumps(other))
    assert len({one, other}) == 1
    assert (one,) == (other,)
    assert one != made(7.0)
    assert made(7.0) == made(7.0)
    assert (one == 7.0, one is None) == (False, False)


def test_figures_and_kinds_tell_records_apart() -> None:
    assert Closing() != Closing(delay_s=1.0)
    assert Arrival() != Tolerated()
    assert Tolerated(0.0, float("nan")) != Tolerated(float("nan"), 0.0)


def test_a_trip_that_came_from_another_process_is_the_same_trip() -> None:
    way = (Stage("wait", (0, 0), Moment(at_s=float("nan"))),)
    asked = trip(replace(NUC, closing=Closing("at_loading"), opening=Moment(), stages=way), "van_shut_dark")
    assert pickle.loads(pickle.dumps(asked)) == asked


def test_every_record_that_may_leave_something_out_is_one_of_them() -> None:
    """Save those with arrays, which nobody compares."""
    bare = []
    for path in every_module():
        for kind in (node for node in nodes(path) if isinstance(node, ast.ClassDef)):
            lines = [line for line in kind.body if isinstance(line, ast.AnnAssign)]
            nan = any(line.value and ast.unparse(line.value).strip("'\"") in NAN for line in lines)
            arrays = any(
                ast.unparse(line.annotation).startswith(("Floats", "Ints", "Bools")) for line in lines
            )
            if nan and not arrays and "Stated" not in map(ast.unparse, kind.bases):
                bare.append(f"{path.name}: {kind.name}")
    assert not bare


NAN = ("float('nan')", "math.nan", "np.nan", "NAN")
