"""Samples, number by number: ranges, leaks, forecast errors between their knots, which lead is taken."""

from __future__ import annotations

from types import MappingProxyType, SimpleNamespace

import numpy as np
import pytest

from planner.app.chance.samples import (
    KNOT_S,
    Sample,
    SampleSpace,
    _leak,
    _weather_errors,
    lead_hours,
    sampled,
    subject_of,
)
from planner.model.parameters import ParameterRow, ParameterTable, in_range
from planner.store.forecast_error import KINDS, ForecastError
from tests.app.chancy import opened, planned
from tests.model.scenarios import HOUR_S, replace, steady

ERROR = ForecastError(
    by_lead=MappingProxyType(
        {
            "air": (np.array([0.0, 100.0]), np.array([1.0, 11.0])),
            "sun": (np.array([0.0, 100.0]), np.array([0.2, 0.2])),
            "wind": (np.array([0.0, 100.0]), np.array([0.5, 0.5])),
        }
    ),
    correlation_h=12.0,
    sun_most=1.2,
    no_lead_h=MappingProxyType({"archive": 0.0, "own": 24.0, "typical": 240.0}),
    agitation_correlation=0.36,
)


def row(name: str, low: float, value: float, high: float, **more: bool) -> ParameterRow:
    return ParameterRow(name, value, low, high, "1", "D", "invented", **more)


JOLT = row("activity_jolt", 0.0, 0.5, 1.0, agitation=True)


def space(*rows: ParameterRow, members: int = 1) -> SampleSpace:
    """Twelve hours, two places, and the rows given beside one of activity."""
    table = ParameterTable({each.name: each for each in (JOLT, *rows)})
    return SampleSpace(table, ("seat", "boot"), 0.0, 12.0 * HOUR_S, ERROR, members)


# -- the space -----------------------------------------------------------------------------------


def test_a_column_for_every_unknown_what_matters_most_first() -> None:
    """Knots every six hours up to beyond the last instant: 0, 6, 12; rows without a range are left out."""
    found = space(
        row("mesh_porosity", 0.4, 0.5, 0.6),
        row("foam_porosity", 0.5, 0.5, 0.5),
        row("person_w", 80.0, 100.0, 120.0),
    )
    errors = [f"{kind} {knot}" for knot in range(3) for kind in KINDS]
    assert found.knots_s.tolist() == [0.0, 6 * HOUR_S, 12 * HOUR_S]
    assert found.columns == (
        *("all agitation", "place seat", "place boot", "leak"),
        *(*errors, "forecast member", "activity_jolt", "mesh_porosity"),
    )
    assert found.subjects == (
        *("agitation", "place", "place", "air flow"),
        *(*["forecast"] * 10, "agitation", "air flow"),
    )


@pytest.mark.parametrize(
    ("name", "subject"),
    [
        ("activity_driving", "agitation"),
        ("agitation_gain", "agitation"),
        ("agitation_start_c", "resting heat"),
        ("bee_mass_kg", "bees"),
        ("fan_share", "air flow"),
        ("evaporation_max_w_kg", "water"),
        ("cluster_hold_c", "cold"),
        ("brood_dose_z_k", "limits"),
        ("worker_danger_c", "limits"),
        ("person_w", None),
        ("nobody_knows", None),
    ],
)
def test_what_a_number_is_about(name: str, subject: str | None) -> None:
    assert subject_of(name) == subject


def test_points_are_counted_as_asked() -> None:
    found = space(row("mesh_porosity", 0.4, 0.5, 0.6))
    points = [found.uniform(count, np.random.default_rng(1)) for count in (1, 2, 3, 8)]
    assert [len(each) for each in points] == [1, 2, 3, 8]
    assert np.array_equal(points[3][:3], points[2])


def test_the_middle_of_every_column_is_the_middle_of_every_range() -> None:
    found = space(row("mesh_porosity", 0.4, 0.45, 0.6))
    middle = found.at(np.full((1, len(found.columns)), 0.5))
    assert middle.values["mesh_porosity"] == pytest.approx([0.45])
    assert middle.values["activity_jolt"] == pytest.approx([0.5])
    for position in (middle.agitation, middle.leak, middle.place, middle.error):
        assert position == pytest.approx(np.zeros_like(position), abs=1e-12)


@pytest.mark.parametrize(("share", "position"), [(0.25, -0.5), (0.5, 0.0), (1.0, 1.0)])
def test_leak_and_places_go_from_the_low_to_the_high(share: float, position: float) -> None:
    found = space()
    sample = found.at(np.full((1, len(found.columns)), share))
    assert sample.leak == pytest.approx([position])
    assert sample.place == pytest.approx(np.full((1, 2), position))


@pytest.mark.parametrize(("share", "member"), [(0.0, 0), (0.32, 0), (0.34, 1), (0.67, 2), (1.0, 2)])
def test_members_of_an_ensemble_share_the_column_evenly(share: float, member: int) -> None:
    found = space(members=3)
    assert found.at(np.full((1, len(found.columns)), share)).member.tolist() == [member]


def test_an_agitated_colony_is_agitated_by_the_stated_correlation() -> None:
    """Common 84.13 % (one sd), own 50 %: the rank lies at 0.6 sd where the correlation is 0.36, 72.57 %.

    And the other way round, the own one sd off, at the square root of 0.64: 0.8 sd, 78.81 %.
    """
    found = space()
    points = np.full((2, len(found.columns)), 0.5)
    points[0, found.columns.index("all agitation")] = 0.841345
    points[1, found.columns.index("activity_jolt")] = 0.841345
    sample = found.at(points)
    assert sample.values["activity_jolt"] == pytest.approx([0.72575, 0.78814], abs=1e-4)
    assert sample.agitation == pytest.approx([2 * 0.72575 - 1.0, 2 * 0.78814 - 1.0], abs=2e-4)


def test_an_error_fades_by_the_memory_of_the_table() -> None:
    """One sd at the first knot only: exp(-1/2) is left of it six hours on, exp(-1) after twelve."""
    found = space()
    points = np.full((1, len(found.columns)), 0.5)
    points[0, found.columns.index("wind 0")] = 0.841345
    error = found.at(points).error
    assert error[0, :, KINDS.index("wind")] == pytest.approx([1.0, np.exp(-0.5), np.exp(-1.0)], abs=1e-4)
    assert error[0, :, KINDS.index("air")] == pytest.approx([0.0, 0.0, 0.0], abs=1e-12)


@pytest.mark.parametrize(
    ("log", "expected"), [(False, [1.0, 1.5, 2.0, 5.0, 8.0]), (True, [1.0, 2**0.5, 2.0, 4.0, 8.0])]
)
def test_a_number_lies_between_its_low_its_value_and_its_high(log: bool, expected: list[float]) -> None:
    """1, 2, 8: straight, and in the logarithm."""
    found = in_range(row("x", 1.0, 2.0, 8.0, log=log), np.array([-1.0, -0.5, 0.0, 0.5, 1.0]))
    assert found == pytest.approx(expected)


def test_taking_samples_takes_them_from_everything() -> None:
    found = space(row("mesh_porosity", 0.4, 0.5, 0.6))
    sample = found.sample(8, np.random.default_rng(2))
    some = sample.take(np.array([6, 1]))
    assert some.samples == 2
    for name in ("agitation", "leak", "place", "member", "error"):
        assert np.array_equal(getattr(some, name), getattr(sample, name)[[6, 1]]), name
    for name, values in sample.values.items():
        assert np.array_equal(some.values[name], values[[6, 1]]), name


# -- what is made of them --------------------------------------------------------------------------


def test_a_leak_moves_towards_the_low_or_the_high_of_its_own_box() -> None:
    """Usual 1, low 0.25, high 16 L/s: half way down is 0.5, half way up 4, in m3/s a thousandth."""
    ranges = np.tile([1.0, 0.25, 16.0], (5, 1))
    found = _leak(ranges, np.array([-1.0, -0.5, 0.0, 0.5, 1.0]))
    assert found * 1e3 == pytest.approx([0.25, 0.5, 1.0, 4.0, 16.0])


def test_a_box_without_leak_has_none() -> None:
    assert _leak(np.zeros((1, 3)), np.array([0.7])) == pytest.approx([0.0], abs=1e-8)


def errors_of(middle_h: list[float], error: list[list[float]], kind: str = "archive") -> list[np.ndarray]:
    """Errors of one sample at the middle of trips, knots at 0, 6 and 12 hours; every kind alike in ``error``."""
    at_s = np.array(middle_h) * HOUR_S
    scenario = SimpleNamespace(forecast_error=ERROR, weathers=(replace(steady(10.0), kind=kind),))
    nothing = np.zeros(1)
    sample = Sample(
        values={},
        agitation=nothing,
        leak=nothing,
        place=np.zeros((1, 0)),
        member=nothing.astype(int),
        knots_s=np.array([0.0, KNOT_S, 2 * KNOT_S]),
        error=np.array(error)[None],
    )
    return [values[:, 0] for values in _weather_errors(scenario, at_s, sample)]  # type: ignore[arg-type]


def test_between_knots_the_error_is_mixed_and_keeps_its_spread() -> None:
    """Errors 1 and 0 at two knots whose likeness is exp(-1/2).

    A third of the way, 2/3 over the root of (2/3)^2 + (1/3)^2 + 2 (2/3)(1/3) exp(-1/2); at a knot, the knot's own.
    """
    air, _, wind = errors_of([0.0, 2.0, 6.0, 9.0], [[1.0] * 3, [0.0] * 3, [2.0] * 3])
    third = 2 / 3 / np.sqrt(5 / 9 + 4 / 9 * np.exp(-0.5))
    half = 0.5 * 2.0 / np.sqrt(0.5 + 0.5 * np.exp(-0.5))
    assert air == pytest.approx([1.0, third, 0.0, half])
    assert np.log(wind) == pytest.approx(0.5 * air)


def test_beyond_the_knots_the_last_one_holds() -> None:
    air, _, _ = errors_of([-3.0, 12.0, 20.0], [[1.0] * 3, [0.0] * 3, [2.0] * 3])
    assert air == pytest.approx([1.0, 2.0, 2.0])


def test_the_kinds_of_error_have_their_own_spread_and_the_sun_a_roof() -> None:
    """Air in kelvin, sun and wind as factors; five spreads of 0.2 would be exp(1), but no sky is that clear."""
    air, sun, wind = errors_of([0.0, 6.0], [[3.0, -2.0, -1.0], [0.0, 5.0, 1.0], [0.0] * 3])
    assert air == pytest.approx([3.0, 0.0])
    assert sun == pytest.approx([np.exp(-0.4), 1.2])
    assert wind == pytest.approx(np.exp([-0.5, 0.5]))


def test_weather_that_is_no_forecast_errs_by_the_lead_of_its_kind() -> None:
    """Own figures miss like a forecast 24 h ahead: 1 + 10 x 0.24 K; what no table names misses like own ones."""
    for kind, spread_k in (("archive", 1.0), ("own", 3.4), ("typical", 11.0), ("dreamt", 3.4)):
        air, _, _ = errors_of([6.0], [[0.0] * 3, [1.0] * 3, [0.0] * 3], kind)
        assert air == pytest.approx([spread_k]), kind


def test_the_lead_counts_from_the_issue_and_never_backwards() -> None:
    forecast = replace(steady(10.0), kind="forecast", issued_s=10.0 * HOUR_S)
    scenario = SimpleNamespace(forecast_error=ERROR, weathers=(forecast,))
    instants = np.array([4.0, 10.0, 16.0, 34.0]) * HOUR_S
    assert lead_hours(scenario, instants).tolist() == [0.0, 0.0, 6.0, 24.0]  # type: ignore[arg-type]


def test_an_ensemble_spreads_by_itself() -> None:
    member = replace(steady(10.0), kind="forecast", issued_s=0.0)
    scenario = SimpleNamespace(forecast_error=ERROR, weathers=(member, member))
    assert lead_hours(scenario, np.array([1e6])).tolist() == [0.0]  # type: ignore[arg-type]


def test_a_place_errs_by_its_own_band() -> None:
    """The warm end of the band against its cool end, nothing else moved: warmer boxes, whichever of two places."""
    found = planned(places=("open_trailer", "pickup_canopy_shut_dark"), high_c=22.0)
    scenario, timeline, night, space = opened(found)
    points = np.full((3, len(space.columns)), 0.5)
    for row_, share in ((0, 0.0), (2, 1.0)):
        points[row_, space.columns.index("place pickup_canopy_shut_dark")] = share
    both = np.array([(0, 0, 0), (0, 1, 0)])
    open_c, shut_c = sampled(scenario, timeline, night, both, space.at(points)).peak_c
    assert open_c[0] == open_c[1] == open_c[2]
    assert shut_c[0] < shut_c[1] - 0.3 < shut_c[2] - 0.6
