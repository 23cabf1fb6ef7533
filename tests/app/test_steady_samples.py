"""Samples that stay the same whatever hours, places and ways are asked about: what an answer rests on."""

from __future__ import annotations

import numpy as np
import pytest

from planner.app.advice.helps import Bench
from planner.app.advice.water import water_plan
from planner.app.answer.settled import ONLY, settled_plan
from planner.app.chance.samples import KNOT_S, RING, SampleSpace
from planner.model.records import Moment, Stage
from planner.store.forecast_error import KINDS, load_forecast_error
from planner.store.posterior import bundled_posterior
from tests.app.answered import asked, tiny
from tests.model.scenarios import NUC, catalogue, replace

FIRST_S = 1.8e9


def space(places: tuple[str, ...], first_s: float, last_s: float, *, steady: bool = True) -> SampleSpace:
    error = load_forecast_error()
    return SampleSpace(
        catalogue().parameters, places, first_s, last_s, error, posterior=bundled_posterior(), steady=steady
    )


def test_more_hours_and_places_in_another_order_change_nothing_of_what_both_have() -> None:
    small = space(("a", "b"), FIRST_S, FIRST_S + 8e4)
    large = space(("c", "b", "a"), FIRST_S - 5e4, FIRST_S + 3e5)
    one, other = (each.at(each.uniform(64, np.random.default_rng(5))) for each in (small, large))
    assert all(np.array_equal(one.values[name], other.values[name]) for name in one.values)
    assert np.array_equal(one.place, other.place[:, [2, 1]])
    assert not np.array_equal(one.place[:, 0], one.place[:, 1])
    rows = np.searchsorted(other.knots_s, one.knots_s)
    assert np.array_equal(one.knots_s, other.knots_s[rows])
    assert np.array_equal(one.error, other.error[:, rows])
    assert np.array_equal(one.leak, other.leak)


def test_a_space_made_wider_is_the_space_that_was_wide_from_the_start() -> None:
    wide = space(("a",), FIRST_S, FIRST_S + 8e4).over(("a", "b"), FIRST_S - 1e5, FIRST_S)
    again = space(("a", "b"), FIRST_S - 1e5, FIRST_S + 8e4)
    assert wide.columns == again.columns
    assert wide.knots_s[0] <= FIRST_S - 1e5
    assert wide.knots_s[-1] >= FIRST_S + 8e4
    assert (np.diff(wide.knots_s) == KNOT_S).all()
    points = [each.uniform(16, np.random.default_rng(2)) for each in (wide, again)]
    assert np.array_equal(*points)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_two_unknowns_run_together_however_they_are_drawn(seed: int) -> None:
    """Got with a sequence of its own for each place and for the errors: 0.94, all being the same sequence in disguise.

    Bees were agitated where a place was warm, or where it was cool, as the seed had it. At random 1,024 points agree to
    0.03 on average and to 0.14 at most of so many pairs.
    """
    wide = space(("a", "b", "c", "d"), FIRST_S, FIRST_S + 8e4)
    points = wide.uniform(1024, np.random.default_rng(seed))
    alike = np.abs(np.corrcoef(points.T) - np.eye(len(wide.columns)))
    worst = np.unravel_index(np.argmax(alike), alike.shape)
    assert alike.max() < 0.2, [wide.columns[i] for i in worst]


@pytest.mark.parametrize("steady", [True, False])
def test_the_way_runs_with_no_other_unknown(steady: bool) -> None:
    wide = SampleSpace(
        catalogue().parameters, ("a",), FIRST_S, FIRST_S + 8e4, load_forecast_error(), ways=(0.5, 0.5), steady=steady
    )  # fmt: skip
    points = wide.uniform(1024, np.random.default_rng(1))
    way = wide.columns.index("way")
    alike = np.abs(np.corrcoef(points.T)[way])
    assert np.delete(alike, way).max() < 0.2


def test_errors_of_a_ring_fade_with_the_hours_between_and_are_as_large_everywhere() -> None:
    """The same correlation as where knots are drawn in a row; a week on they come round again."""
    wide = space((), FIRST_S, FIRST_S + 2.0 * RING * KNOT_S)
    error = wide.at(wide.uniform(4096, np.random.default_rng(3))).error
    assert error.shape[1:] == (wide.knots_s.size, len(KINDS))
    assert np.abs(error.std(axis=0) - 1.0).max() < 0.06
    along_h = load_forecast_error().correlation_h
    for apart in (1, 2, 4):
        found = np.mean([np.corrcoef(error[:, i, 0], error[:, i + apart, 0])[0, 1] for i in range(12)])
        assert found == pytest.approx(np.exp(-6.0 * apart / along_h), abs=0.05)
    assert np.allclose(error[:, 0], error[:, RING])


def test_the_way_of_a_box_is_drawn_beside_all_else() -> None:
    """Where nobody knows the way, the rest of the sample is the one of where it is known."""
    error = load_forecast_error()
    table = catalogue().parameters
    known, open_ = (
        SampleSpace(table, ("a",), FIRST_S, FIRST_S + 8e4, error, ways=ways, steady=True)
        for ways in ((), (0.75, 0.25))
    )
    one, other = (each.at(each.uniform(64, np.random.default_rng(5))) for each in (known, open_))
    assert one.way is None
    assert other.way is not None
    assert np.bincount(other.way).tolist() == [48, 16]
    assert np.array_equal(one.error, other.error)
    assert np.array_equal(one.agitation, other.agitation)


def test_what_helps_and_water_go_every_way_that_the_answer_goes() -> None:
    """Found in reading: they went the likeliest way alone, so that their harm was another than the answer's."""
    places = (("ground_shade", 0.5), ("van_shut_white", 0.5))
    way = (
        Stage("wait", (0, 0), Moment("arrival")),
        Stage("drive", (0, 1), Moment("arrival")),
        Stage("doorstep", (1, 1), Moment("lasting", (7200.0,) * 3), places=places, holder="receiver"),
        Stage("settle", (1, 1), Moment("lasting", (1800.0,) * 3)),
    )
    trip = tiny(replace(NUC, stages=way), departures=1, leave_s=tiny().window.first_s + 14.0 * 3600.0)
    found = asked(trip, 20.0, 35.0, counts=(64,), otherwise=False)
    said = found.answer(finished=True)
    assert said.best is not None
    assert said.best.harm_of_100 is not None
    assert 5.0 < said.best.harm_of_100.value < 95.0
    plan = settled_plan(said, said.best, catalogue())
    bench = Bench(plan, ONLY, catalogue(), [], np.random.default_rng(1), 64, drawn=found.race.field)
    (base,) = bench.tried([()])
    assert round(100.0 * float(base.harmed.mean()), 1) == said.best.harm_of_100.value
    water = water_plan(plan, ONLY, catalogue(), np.random.default_rng(1), samples=16, drawn=found.race.field)
    assert water.without.harmed.size == 64
    assert round(100.0 * float(water.without.harmed.mean()), 1) == said.best.harm_of_100.value


def test_scatter_belongs_to_what_scatters() -> None:
    """Found in reading: more or fewer bees than counted were put down to the forecast, and waiting for it advised."""
    drawn = space(("a",), FIRST_S, FIRST_S + 8e4)
    subjects = dict(zip(drawn.columns, drawn.subjects, strict=True))
    assert subjects["scatter bees"] == "bees"
    assert subjects["scatter activity"] == "agitation"
    assert subjects["scatter leak"] == "air flow"
    assert subjects["frame_bees_factor"] == "bees"
    assert {subjects[f"{kind} 0"] for kind in KINDS} == {"forecast"}
    assert subjects["place a"] == "place"
