"""The case table: any rows of it, in any order, give what the full grid gives; who shares air and who does not."""

from __future__ import annotations

from dataclasses import fields, replace
from unittest.mock import Mock

import numpy as np
import pytest

from planner.model import cases
from planner.model.cases import (
    CaseGrid,
    CaseTable,
    Variations,
    agitation_variations,
    boxes_in_place,
    build_cases,
    cases_of,
    enclosures,
    full_grid,
    lay_out,
    run,
    set_apart,
    simulate,
)
from planner.model.records import Stand
from planner.model.timeline import Timeline, build_timeline, follow, one_after_another
from planner.model.weather import outside_weather
from tests.model.scenarios import (
    DAY_S,
    HIVE,
    HOUR_S,
    NUC,
    SPRING,
    SUMMER,
    catalogue,
    grid_of,
    halt,
    road,
    trip,
    typical,
    weather,
)

LEAVE_S = SPRING + DAY_S + 8.0 * HOUR_S
PLACES = ("van_shut_white", "open_trailer")


@pytest.fixture(scope="module")
def laid() -> tuple[CaseGrid, Timeline]:
    """Two groups, the second pinned to the trailer; two departures, two places, two agitations."""
    groups = (NUC, replace(HIVE, count=3, loading_place="open_trailer"))
    planned = trip(groups, PLACES, leave_s=LEAVE_S, last_s=LEAVE_S + HOUR_S)
    return grid_of(planned, road(1.0), weather(10.0, 22.0), (-1.0, 1.0))


@pytest.fixture(scope="module")
def whole(laid: tuple[CaseGrid, Timeline]) -> np.ndarray:
    """Peak of every candidate, (departure, place, setup, agitation, group)."""
    grid, timeline = laid
    return run(grid, timeline, night_of(timeline)).assessed().peak_core_c.reshape(2, 2, 1, 2, 2)


def night_of(timeline: Timeline, night: float = 0.0) -> np.ndarray:
    return np.full(timeline.closed_s.shape, night)


def rows_of(table: CaseTable, rows: np.ndarray) -> CaseTable:
    return CaseTable(**{f.name: getattr(table, f.name)[rows] for f in fields(table)})


def test_the_full_grid_counts_every_candidate_with_the_group_innermost(
    laid: tuple[CaseGrid, Timeline],
) -> None:
    table = full_grid(laid[0], 2)
    assert table.size == 2 * 2 * 1 * 2 * 2
    np.testing.assert_array_equal(table.group[:4], [0, 1, 0, 1])
    np.testing.assert_array_equal(table.sample[:4], [0, 0, 1, 1])
    np.testing.assert_array_equal(table.place[:8], [0, 0, 0, 0, 1, 1, 1, 1])
    np.testing.assert_array_equal(table.departure, np.repeat([0, 1], 8))
    np.testing.assert_array_equal(table.enclosure, np.repeat(np.arange(8), 2))
    assert not table.closing.any()


def test_some_rows_in_another_order_give_what_the_grid_gives(
    laid: tuple[CaseGrid, Timeline], whole: np.ndarray
) -> None:
    """The second departure alone, its places turned round: the very figures of the whole grid."""
    grid, timeline = laid
    table = cases_of(np.array([[1, 1, 0], [1, 0, 0]]), 2, 2)
    batch = simulate(lay_out(grid, timeline, night_of(timeline), table, agitation_variations(grid)))
    found = batch.assessed().peak_core_c.reshape(2, 2, 2)
    np.testing.assert_array_equal(found, whole[1, ::-1, 0])
    assert batch.time_s.shape[1] == 1


def test_a_closing_is_a_further_run_of_departures_in_the_timeline(laid: tuple[CaseGrid, Timeline]) -> None:
    """Closing 1 of departure 0 is row 0 + 2 of a timeline of two closings of two departures."""
    grid, timeline = laid
    early = build_timeline(grid.trip, grid.road, timeline.departure_s, timeline.closed_s - 2.0 * HOUR_S)
    both = one_after_another([timeline, early])
    plain = cases_of(np.array([[0, 0, 0], [0, 0, 0]]), 2, 2)
    table = replace(plain, closing=np.repeat([0, 1], 4))
    batch = lay_out(grid, both, night_of(both), table, agitation_variations(grid))
    shut_s = batch.vehicle.closed[:, batch.cases.track].sum(axis=0) * 60.0
    np.testing.assert_allclose(shut_s[4:] - shut_s[:4], 2.0 * HOUR_S)


def test_boxes_of_one_load_share_the_air_of_one_place_and_of_no_other(
    laid: tuple[CaseGrid, Timeline],
) -> None:
    """Van: the nuc alone, the pinned hives on the trailer; trailer: both together. Never with another candidate."""
    grid, timeline = laid
    table = cases_of(np.array([[0, 0, 0], [0, 1, 0]]), 1, 2)
    enclosure = lay_out(grid, timeline, night_of(timeline), table, Variations()).cases.enclosure
    assert enclosure is not None
    assert len({enclosure[0], enclosure[1], enclosure[2]}) == 3
    assert enclosure[2] == enclosure[3]


def test_a_load_of_one_group_shares_with_nobody() -> None:
    grid, _ = grid_of(trip(NUC, PLACES, leave_s=LEAVE_S), road(1.0), weather(10.0, 22.0))
    assert enclosures(grid, np.arange(3), np.zeros(3, dtype=np.int64)) is None
    assert set_apart(None, 4) is None


def test_repeated_batches_keep_apart() -> None:
    """Enclosures 0, 0, 2 three times: 0, 0, 2, then 3, 3, 5, then 6, 6, 8."""
    found = set_apart(np.array([0, 0, 2]), 3)
    np.testing.assert_array_equal(found, [0, 0, 2, 3, 3, 5, 6, 6, 8])


def test_closing_at_night_shuts_more_bees_in(laid: tuple[CaseGrid, Timeline]) -> None:
    """``closed_at_night_gain`` times the bees of the groups shut by night, and of no other."""
    grid, timeline = laid
    table = cases_of(np.array([[0, 0, 0]]), 1, 2)
    night = np.array([[1.0, 0.0], [0.0, 0.0]])
    by_day = lay_out(grid, timeline, night_of(timeline), table, Variations()).cases.boxes.bees_kg
    shut = lay_out(grid, timeline, night, table, Variations()).cases.boxes.bees_kg
    np.testing.assert_allclose(shut / by_day, [float(typical().closed_at_night_gain), 1.0])


def test_agitation_takes_the_place_along(laid: tuple[CaseGrid, Timeline]) -> None:
    """Calm bees in air cooler by the place's band times the reach, agitated ones in air warmer by as much."""
    grid, timeline = laid
    batch = lay_out(
        grid, timeline, night_of(timeline), cases_of(np.array([[0, 0, 0]]), 2, 2), agitation_variations(grid)
    )
    van, trailer = grid.band_k
    reach = grid.table.rows["agitation_reach"].value
    np.testing.assert_allclose(batch.cases.place_offset_k, reach * np.array([-van, -trailer, van, trailer]))
    assert np.all(batch.parameters.activity_driving[2:] > batch.parameters.activity_driving[:2])


def test_what_varies_lands_on_its_own_sample(laid: tuple[CaseGrid, Timeline]) -> None:
    """Leak by (box, sample), weather by (departure, sample); what is not given stays as it is."""
    grid, timeline = laid
    table = cases_of(np.array([[1, 0, 0]]), 2, 2)
    variations = Variations(
        parameters={"fan_share": np.array([0.1, 0.2])},
        leak_m3_s=np.array([[1e-4, 2e-4], [3e-4, 4e-4]]),
        air_offset_k=np.array([[9.0, 9.0], [1.0, 2.0]]),
        wind_factor=np.array([[9.0, 9.0], [0.5, 2.0]]),
    )
    batch = lay_out(grid, timeline, night_of(timeline), table, variations)
    np.testing.assert_allclose(batch.parameters.fan_share, [0.1, 0.1, 0.2, 0.2])
    np.testing.assert_allclose(batch.cases.boxes.leak_m3_s, [1e-4, 3e-4, 2e-4, 4e-4])
    np.testing.assert_allclose(batch.cases.air_offset_k, [1.0, 1.0, 2.0, 2.0])
    np.testing.assert_allclose(batch.cases.wind_factor, [0.5, 0.5, 2.0, 2.0])
    assert batch.cases.sun_factor == 1.0
    assert batch.cases.place_offset_k == 0.0


def test_the_boxes_of_all_groups_in_a_place_are_counted(laid: tuple[CaseGrid, Timeline]) -> None:
    """A nuc in the van and three hives on the trailer; where the nuc rides there too, four."""
    grid, _ = laid
    one = float(grid.trip.groups[0].count)
    assert boxes_in_place(grid).tolist() == [[one, 3.0], [one + 3.0, one + 3.0]]


@pytest.mark.parametrize("place", ["boot_dark", "open_trailer"])
def test_a_box_stands_as_its_group_says_and_else_as_is_usual_in_the_place(place: str) -> None:
    """What a group says counts whatever is usual; its own and the usual stand differ in the air below the floor."""

    def boxes(stand: Stand | None) -> np.ndarray:
        group = replace(NUC, stand=stand)
        grid, timeline = grid_of(trip(group, place, leave_s=LEAVE_S), road(1.0), weather(10.0, 22.0))
        found = build_cases(grid, timeline, night_of(timeline)).cases.boxes
        return np.concatenate([np.ravel(np.asarray(getattr(found, f.name), float)) for f in fields(found)])

    usual = catalogue().loading_places[place].stand
    assert not np.array_equal(boxes("flat"), boxes("battens"))
    np.testing.assert_array_equal(boxes(None), boxes("flat" if usual == "flat" else "battens"))


def test_every_track_stood_in_the_air_of_its_own_yard() -> None:
    """Boxes loaded half way, where it is ten degrees warmer, and departures an hour apart."""
    sky = weather(10.0, 22.0)
    wide = {f.name: getattr(sky, f.name) for f in fields(sky)}
    wide = {n: np.repeat(v, 2, axis=1) for n, v in wide.items() if np.ndim(v) == 2 and v.shape[1] == 1}
    wide["air_c"] = wide["air_c"] + [0.0, 10.0]
    sky = replace(sky, **wide, km=np.array([0.0, 80.0]))
    groups = (NUC, replace(NUC, load_waypoint=1))
    planned = trip(groups, PLACES[:1], leave_s=LEAVE_S, last_s=LEAVE_S + HOUR_S, stops=[halt(20, "load")])
    grid, timeline = grid_of(planned, road(2.0, waypoints=3), sky)
    both = build_cases(grid, timeline, night_of(timeline)).cases.stood_in_c
    later = timeline.take(np.array([1]))
    alone = build_cases(grid, later, night_of(later)).cases.stood_in_c
    np.testing.assert_allclose(both[-alone.size :], alone)
    assert (alone.reshape(-1, 2) @ [-1.0, 1.0] > 5.0).all()


def test_groups_meet_the_weather_of_where_each_is() -> None:
    """Groups that are together meet it once; one loaded at a stop meets its own until then."""
    leave_s = SUMMER + DAY_S + 7.0 * HOUR_S
    later = replace(HIVE, label="later", load_waypoint=1)
    for groups, tracks in (((NUC, HIVE, later, HIVE), 2), ((NUC, HIVE), 1), ((NUC,), 1)):
        planned = trip(groups, PLACES, leave_s=leave_s, last_s=leave_s + HOUR_S, stops=[halt(30.0, "load")])
        grid, timeline = grid_of(planned, road(2.0, waypoints=3), weather(14, 30, SUMMER))
        time_s = timeline.start_s + np.arange(0.0, 6.0 * HOUR_S, 600.0)[:, None]
        vehicle = follow(planned, grid.road, timeline, time_s)
        each = outside_weather(grid.weather, vehicle, grid.table.typical().ground_albedo)
        asked = Mock(wraps=outside_weather)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(cases, "outside_weather", asked)
            found = cases._outside(grid, vehicle)
        for field in fields(each):
            np.testing.assert_array_equal(getattr(found, field.name), getattr(each, field.name), field.name)
        assert asked.call_args.args[1].km.shape[1] == 2 * tracks, "two departures"
