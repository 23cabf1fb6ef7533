"""From what services say about their points to one weather: what is kept, mended, left out and refused."""

from __future__ import annotations

import numpy as np
import pytest

from planner.model.records import Weather
from planner.services.forecast.assemble import Series, assemble, check_covers, dated
from planner.services.forecast.points import Points
from planner.services.forecast.span import Span
from planner.services.http import UnreadableError

H = 3600.0
T0 = 1_780_272_000.0
"""1 June 2026, 00:00 UTC."""


def points(*km: float) -> Points:
    here = np.array(km or (0.0,))
    return Points(here, 48.0 + here / 111.195, np.full(here.shape, 8.0), np.full(here.shape, 250.0))


def series(hours: list[float], **values: list[float]) -> Series:
    """The hours from T0 on; what is not given is ordinary."""
    usual = {"air_c": 20.0, "dew_c": 10.0, "wind_east_ms": 1.0, "ghi_w_m2": 0.0, "cloud_share": 0.5}
    filled = {name: np.full(len(hours), value) for name, value in usual.items()}
    told = {name: np.array(column, dtype=np.float64) for name, column in values.items()}
    return Series(T0 + H * np.array(hours), {**filled, **told})


def weather(*each: Series, at: Points | None = None) -> Weather:
    where = at or points(*(30.0 * index for index in range(len(each))))
    return assemble(where, each, source="s", attribution="a", issued_s=1.0)


LIMITS = {
    "air_c": (-90.0, 60.0),
    "wind_east_ms": (-110.0, 110.0),
    "wind_north_ms": (-110.0, 110.0),
    "gust_ms": (0.0, 140.0),
    "ghi_w_m2": (-20.0, 1600.0),
    "dni_w_m2": (-20.0, 1500.0),
    "dhi_w_m2": (-20.0, 1200.0),
    "cloud_share": (0.0, 1.0),
    "pressure_pa": (30_000.0, 110_000.0),
    "rain_mm": (0.0, 500.0),
}


@pytest.mark.parametrize("name", LIMITS)
def test_the_extremes_of_the_earth_are_kept_and_what_lies_beyond_is_left_out(name: str) -> None:
    """The world's records (air -89.2 and 56.7 C, gust 113 m/s, pressure 1085 hPa; from memory) lie inside."""
    low, high = LIMITS[name]
    found = weather(series([0, 1, 2, 3], **{name: [low, high, low - 0.01, high + 0.01]}))
    column = getattr(found, name)[:, 0]
    kept = [max(low, 0.0) if name.endswith("w_m2") else low, high]
    assert column[:2].tolist() == kept
    assert np.isnan(column[2:]).all()
    assert any(note.startswith("2 impossible values") and note.endswith("at km 0") for note in found.notes)


def test_dew_points_beyond_the_earth_are_left_out() -> None:
    found = weather(series([0, 1, 2, 3], air_c=[50.0] * 4, dew_c=[-110.0, 40.0, -110.1, 40.1]))
    assert found.dew_c[:2, 0].tolist() == [-110.0, 40.0]
    assert np.isnan(found.dew_c[2:]).all()


@pytest.mark.parametrize("name", ["ghi_w_m2", "dni_w_m2", "dhi_w_m2"])
def test_a_pyranometers_few_watts_below_zero_at_night_are_darkness(name: str) -> None:
    found = getattr(weather(series([0, 1, 2], **{name: [-4.0, 0.0, 7.0]})), name)
    assert found[:, 0].tolist() == [0.0, 0.0, 7.0]


def test_a_dew_point_above_the_air_is_set_to_the_air() -> None:
    assert weather(series([0, 1], air_c=[8.0, 12.0], dew_c=[9.0, 9.0])).dew_c[:, 0].tolist() == [8.0, 9.0]


def test_points_that_begin_and_end_apart_share_one_grid_with_gaps() -> None:
    """Hours 0 to 2 at km 0, 1 to 3 at km 30: four rows, two of them half known."""
    found = weather(series([0, 1, 2], air_c=[1, 2, 3]), series([1, 2, 3], air_c=[4, 5, 6]))
    assert ((found.time_s - T0) / H).tolist() == [0, 1, 2, 3]
    assert np.array_equal(found.air_c[:, 0], [1, 2, 3, np.nan], equal_nan=True)
    assert np.array_equal(found.air_c[:, 1], [np.nan, 4, 5, 6], equal_nan=True)
    assert "2 h of air temperature missing at 2 points, km 0 to 30" in found.notes


def test_what_never_came_is_said_once_and_a_single_gap_with_its_place() -> None:
    found = weather(series([0, 1, 2], cloud_share=[np.nan] * 3, ghi_w_m2=[0.0, np.nan, np.inf]))
    assert found.notes == ("2 h of sun missing at km 0", "no cloud in the answer")


@pytest.mark.parametrize("off_s", [-1.0, 1.0])
def test_stamps_a_second_off_the_hour_are_taken_for_the_hour(off_s: float) -> None:
    assert weather(series([0, 1 + off_s / H, 2])).time_s.tolist() == [T0, T0 + H, T0 + 2 * H]


@pytest.mark.parametrize("off_s", [-2.0, 2.0, 1800.0, np.nan])
def test_stamps_farther_off_the_hour_are_refused(off_s: float) -> None:
    with pytest.raises(UnreadableError, match="for km 0 are not whole hours"):
        weather(series([0, 1 + off_s / H, 2]))


def test_hours_out_of_order_are_sorted_with_their_values() -> None:
    found = weather(series([2, 0, 1], air_c=[12, 10, 11]))
    assert found.air_c[:, 0].tolist() == [10, 11, 12]
    assert found.notes == ("hours came out of order, put right at km 0",)


@pytest.mark.parametrize(
    ("air_c", "expected", "note"),
    [
        ([7.0, 7.0], 7.0, "hours given twice at km 0"),
        ([np.nan, np.nan], np.nan, "hours given twice at km 0"),
        ([7.0, 8.0], np.nan, "hours given twice with different values left out at km 0"),
        ([7.0, np.nan], np.nan, "hours given twice with different values left out at km 0"),
    ],
)
def test_an_hour_given_twice_counts_where_both_say_the_same(
    air_c: list[float], expected: float, note: str
) -> None:
    found = weather(series([0, 1, 1, 2], air_c=[5.0, *air_c, 9.0]))
    assert np.array_equal(found.air_c[:, 0], [5.0, expected, 9.0], equal_nan=True)
    assert note in found.notes


@pytest.mark.parametrize(("away_km", "fits"), [(99.0, True), (101.0, False)])
def test_an_answer_about_a_place_over_100_km_away_is_about_another_place(away_km: float, fits: bool) -> None:
    """A cell of the coarsest grid in use and a step to the next land cell make less."""
    one = series([0, 1])
    there = Series(one.time_s, one.values, 48.0 + away_km / 111.195, 8.0)
    if fits:
        assert weather(there).air_c[0, 0] == 20.0
    else:
        with pytest.raises(UnreadableError, match="for km 0 is about a place 101 km away"):
            weather(there)


def test_the_worst_of_several_wrong_places_is_named() -> None:
    one = series([0, 1])
    each = [Series(one.time_s, one.values, 48.0 + off, 8.0) for off in (0.0, 5.0, 2.0)]
    with pytest.raises(UnreadableError, match="for km 30 is about a place"):
        weather(*each)


@pytest.mark.parametrize(("hours", "fits"), [(400 * 24, True), (400 * 24 + 1, False)])
def test_an_answer_longer_than_400_days_is_refused(hours: int, fits: bool) -> None:
    one = series([0, hours])
    if fits:
        assert weather(one).time_s.size == hours + 1
    else:
        with pytest.raises(UnreadableError, match="spans 400 days"):
            weather(one)


def test_heights_are_the_services_own_where_it_tells_them() -> None:
    one = series([0, 1])
    told = Series(one.time_s, one.values, elevation_m=612.0)
    assert weather(told, one).elevation_m.tolist() == [612.0, 250.0]


@pytest.mark.parametrize("count", [1, 3])
def test_as_many_series_as_points_must_come(count: int) -> None:
    with pytest.raises(UnreadableError, match=f"holds {count} places where 2 were asked for"):
        weather(*[series([0, 1])] * count, at=points(0.0, 30.0))


def test_remarks_on_the_answers_age_come_first() -> None:
    found = dated(weather(series([0, 1], cloud_share=[np.nan] * 2)), 77.0, ("2 h old",))
    assert (found.issued_s, found.notes) == (77.0, ("2 h old", "no cloud in the answer"))


# -- whether it is about what was asked ------------------------------------------------------------

DAY_ASKED = Span(T0, T0 + 24 * H)
"""Twenty-five hours, both ends among them."""


@pytest.mark.parametrize("name", ["air_c", "dew_c", "wind_east_ms"])
@pytest.mark.parametrize(
    ("known", "enough"),
    [
        ([*range(0, 18, 2), 24], True),  # ten hours, half of all but the first six
        ([*range(0, 16, 2), 24], False),
        (range(6, 25), True),
        (range(7, 25), False),
        (range(19), True),
        (range(18), False),
        ([], False),
    ],
)
def test_an_answer_has_to_be_about_most_of_the_hours_asked_for(
    name: str, known: list[int], enough: bool
) -> None:
    one = series([*range(25)], **{name: [1.0 if hour in known else np.nan for hour in range(25)]})
    if enough:
        check_covers(one, DAY_ASKED, 0.0)
        return
    with pytest.raises(UnreadableError):
        check_covers(one, DAY_ASKED, 0.0)


def test_hours_beyond_those_asked_for_count_for_nothing() -> None:
    around = [*range(-20, 0), *range(0, 16, 2), 24, *range(25, 40)]
    with pytest.raises(UnreadableError, match=r"\b9 hours"):
        check_covers(series(around), DAY_ASKED, 0.0)
