"""Arrival wishes, hours shut and work: how each weighs in the ranking, with every figure worked out."""

from __future__ import annotations

import numpy as np
import pytest

from planner.app.plan.plan import _inconvenience, missed_wishes
from planner.app.plan.results import Choice
from planner.model.clock import inside_hours, local_seconds
from planner.model.closing import closing_times
from planner.model.preparations import AS_DECLARED, CLEAN_FLOOR, ROOF_SCREEN
from planner.model.records import Arrival, Closing, Trip
from planner.model.timeline import build_timeline
from tests.model.scenarios import DAY_S, HOUR_S, NUC, at, catalogue, plan, replace, road, steady, trip

NIGHT = at(2027, 3, 29, 18)  # 20:00 in Rome and in Zurich


def wishing(**wish: object) -> Trip:
    return trip(NUC, "open_trailer", arrival=Arrival(**wish))


def missed(arrivals_h: list[float], **wish: object) -> list[float]:
    """Wishes missed by arrivals that many hours after midnight in Zurich on 30 March, summer time (UTC + 2)."""
    midnight = at(2027, 3, 29, 22)
    return missed_wishes(wishing(**wish), midnight + np.array(arrivals_h) * HOUR_S).tolist()


# -- arrival wishes ------------------------------------------------------------------------------


def test_without_a_wish_nothing_is_missed() -> None:
    assert missed([0.0, 6.0, 12.0, 18.0]) == [0.0] * 4


def test_arrive_by_is_missed_by_those_who_come_later() -> None:
    """Nine o'clock at the latest: half past eight and nine itself will do, a minute past will not."""
    latest = at(2027, 3, 30, 7)
    assert missed([8.5, 9.0, 9.0 + 1 / 60, 23.0], latest_s=latest) == [0.0, 0.0, 1.0, 1.0]


def test_before_light_is_missed_once_the_sun_is_within_six_degrees_of_rising() -> None:
    """47.5 N, 8 E: the sun rises about 07:10 summer time, civil twilight begins half an hour sooner."""
    assert missed([4.0, 6.0, 7.0, 13.0, 22.0], before_light=True) == [0.0, 0.0, 1.0, 1.0, 0.0]


@pytest.mark.parametrize(
    ("opens_h", "shuts_h", "hours", "expected"),
    [
        (6.0, 22.0, [5.9, 6.0, 12.0, 22.0, 22.1], [1.0, 0.0, 0.0, 0.0, 1.0]),
        (20.0, 5.0, [19.9, 20.0, 23.5, 0.0, 5.0, 5.1, 12.0], [1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 1.0]),
        (7.0, 7.0, [6.9, 7.0, 7.1], [1.0, 0.0, 1.0]),
    ],
)
def test_gate_hours_by_the_clock_of_the_destination(
    opens_h: float, shuts_h: float, hours: list[float], expected: list[float]
) -> None:
    """By day, over midnight, and a gate that opens for an instant."""
    assert missed(hours, gate_open_s=opens_h * HOUR_S, gate_shut_s=shuts_h * HOUR_S) == expected


@pytest.mark.parametrize(("opens", "shuts", "open_at"), [(2.0, 4.0, [2, 3, 4]), (4.0, 2.0, [0, 1, 2, 4, 5])])
def test_hours_that_run_over_midnight_are_the_rest_of_the_day(
    opens: float, shuts: float, open_at: list[int]
) -> None:
    assert np.flatnonzero(inside_hours(np.arange(6.0), opens, shuts)).tolist() == open_at


def test_every_missed_wish_counts() -> None:
    """Noon: light, later than nine, and the gate shut since eleven."""
    wishes = {"before_light": True, "latest_s": at(2027, 3, 30, 7), "gate_open_s": 0.0}
    assert missed([12.0], **wishes, gate_shut_s=11.0 * HOUR_S) == [3.0]


def test_the_local_clock_counts_hours_minutes_and_seconds() -> None:
    """21:30:05 UTC is 23:30:05 in summer, 22:30:05 in winter."""
    instants = np.array([at(2027, 7, 1, 21.5) + 5.0, at(2027, 1, 1, 21.5) + 5.0])
    assert local_seconds(instants, "Europe/Rome").tolist() == [84_605.0, 81_005.0]


# -- what weighs how much ------------------------------------------------------------------------


def test_inconvenience_is_wishes_then_hours_then_work() -> None:
    """Shut at 20:00 by the clock; wheels turn at 21:00 and 23:00; an hour of driving, half an hour to open.

    Shut for 2.5 and 4.5 hours, at half a point each; the second arrives past midnight and misses the wish, ten
    points; efforts of places and set-ups as the catalogue has them.
    """
    names = ("open_trailer", "cabin_seat_cooled")
    asked = trip(
        NUC,
        names,
        leave_s=NIGHT + HOUR_S,
        last_s=NIGHT + 3.0 * HOUR_S,
        step_s=2.0 * HOUR_S,
        closing=Closing("clock", clock_s=20.0 * HOUR_S),
        arrival=Arrival(latest_s=NIGHT + 3.0 * HOUR_S),
    )
    way, leaves = road(1.0), NIGHT + np.array([1.0, 3.0]) * HOUR_S
    timeline = build_timeline(asked, way, leaves, closing_times(asked, way, leaves))
    setups = (AS_DECLARED, CLEAN_FLOOR, ROOF_SCREEN)
    found = _inconvenience(asked, catalogue(), timeline, setups, (2, 2, 3))
    hours = np.array([0.5 * 2.5, 0.5 * 4.5 + 10.0])
    places = np.array([catalogue().loading_places[name].effort for name in names])
    assert places[0] != places[1]
    assert found == pytest.approx(hours[:, None, None] + places[:, None] + np.array([0.0, 1.0, 2.0]))


def mild(**more: object) -> tuple[Choice, ...]:
    """The ranking of a weak nuc at a steady 15 C by night: every candidate has margin enough."""
    weak = replace(NUC, frames_of_bees=2.0, roof="shaded_screen")
    asked = trip(weak, "open_trailer", leave_s=NIGHT + HOUR_S, last_s=NIGHT + 4.0 * HOUR_S, **more)
    found = plan(asked, road(1.0), steady(15.0, start_s=NIGHT - DAY_S), more.pop("setups", (AS_DECLARED,)))
    assert found.outcomes.headroom_k.min() > 4.0
    return found.ranking


def test_among_equals_the_boxes_shut_for_the_shortest_time_go_first() -> None:
    ranking = mild(closing=Closing("clock", clock_s=20.0 * HOUR_S))
    assert [choice.departure for choice in ranking] == [0, 1, 2, 3]


def test_a_wish_outweighs_hours_shut() -> None:
    """Shut at 20:00, gate open from 23:30 to 04:00: departures at 23:00 and midnight arrive inside it."""
    ranking = mild(
        closing=Closing("clock", clock_s=20.0 * HOUR_S),
        arrival=Arrival(gate_open_s=23.5 * HOUR_S, gate_shut_s=4.0 * HOUR_S),
    )
    departures = [choice.departure for choice in ranking]
    assert departures[:2] == [2, 3]
    assert set(departures[2:]) == {0, 1}, "both wait before the gate and are opened at one time"
