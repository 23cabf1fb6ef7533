"""One curve and the many agree: what is drawn as typical is the middle of the samples that are counted."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from planner.app.chance.race import scenario_of, space_of
from planner.app.chance.samples import sampled
from planner.app.plan.plan import departures_of
from planner.bundled import resource_path
from planner.model.cases import agitation_variations, cases_of, lay_out, simulate
from planner.model.catalogue import Catalogue
from planner.model.parameters import ParameterTable
from planner.model.preparations import AS_DECLARED
from planner.model.records import Floats
from planner.store.catalogue import load_catalogue
from planner.store.posterior import FITTED_WITH_LEAK, bundled_posterior
from planner.store.tripfile import load_trip
from tests.model.scenarios import HIVE, replace, road, trip, weather

MANY = 512
"""A share of so many is known to 2 of 100: what lies at a quarter is not taken for an eighth."""
DEMOS = ("nuc-pickup", "night-pollination", "swarm-run")


@cache
def bundled() -> Catalogue:
    return load_catalogue()


def peaks(name: str) -> tuple[Floats, Floats]:
    """Peaks of the samples, (candidate, sample), and of calm, typical and agitated bees, (candidate, 3);
    candidates past the end of the weather are left out."""
    catalogue = bundled()
    if name == "packed hive in the van":
        packed = replace(HIVE, frames_of_bees=18.0)
        found, way, sky = trip(packed, "van_shut_white"), road(3.0), weather(10.0, 20.0)
    else:
        opened = load_trip(resource_path("demo", f"{name}.toml"), catalogue)
        assert opened.road is not None
        assert opened.weather.weather is not None
        found, way, sky = opened.trip, opened.road, opened.weather.weather
    departures = departures_of(found)
    departures = departures[:: max(len(departures) // 2, 1)]
    scenario, timeline, night = scenario_of(
        found, way, (sky,), departures, found.loading_places, catalogue, [AS_DECLARED]
    )
    candidates = np.array(
        [(d, p, 0) for d in range(len(departures)) for p in range(len(found.loading_places))]
    )
    space = space_of(scenario, timeline)
    many = sampled(scenario, timeline, night, candidates, space.sample(MANY, np.random.default_rng(1)))
    table = cases_of(candidates, 3, scenario.grid.groups)
    batch = lay_out(scenario.grid, timeline, night, table, agitation_variations(scenario.grid), step_s=120.0)
    three = simulate(batch, 120.0).assessed(120.0).peak_core_c.reshape(len(candidates), 3, -1).max(axis=2)
    told = np.isfinite(three).all(axis=1)
    assert told.any()
    return many.peak_c[told], three[told]


@pytest.mark.parametrize(
    "name", ["packed hive in the van", *(pytest.param(d, marks=pytest.mark.slow) for d in DEMOS)]
)
def test_what_is_typical_lies_in_the_middle_of_the_samples(name: str) -> None:
    """Of all candidates together between 25 and 75 of 100 samples peak below it; calm and agitated bees, in a place
    cooler or warmer than thought, take in most of the samples but not all."""
    many, three = peaks(name)
    calm, typical, agitated = (many[:, :, None] < three[:, None, :]).mean(axis=1).T
    assert 0.25 <= np.median(typical) <= 0.75
    assert np.mean((typical >= 0.25) & (typical <= 0.75)) >= 0.75  # 9 of 12 candidates of one demo
    assert 0.01 <= np.median(calm) <= 0.25
    assert 0.75 <= np.median(agitated) <= 0.99


def test_the_one_sample_in_the_middle_is_what_the_table_holds_typical() -> None:
    found = trip(HIVE, "open_trailer")
    scenario, timeline, _ = scenario_of(
        found,
        road(1.0),
        (weather(10.0, 20.0),),
        departures_of(found),
        ["open_trailer"],
        bundled(),
        [AS_DECLARED],
    )
    middle, typical = space_of(scenario, timeline).middle(), bundled().parameters.typical()
    for name, values in middle.values.items():
        assert values == [getattr(typical, name)], name
    assert not middle.agitation.any()
    assert not middle.place.any()
    assert not middle.error.any()


def test_every_row_is_believed_between_its_ends_and_bees_calm_below_agitated() -> None:
    table = bundled().parameters
    assert table.narrowed
    for row in table.narrowed.values():
        assert row.low <= row.value <= row.high, row.name
    levels = table.agitation_values(np.array([-1.0, 0.0, 1.0]))
    assert all(np.all(np.diff(values) > 0.0) for values in levels.values())


def test_a_row_of_ones_own_is_believed_as_it_is() -> None:
    """Judgement about the bundled row says nothing of a figure that somebody has put in its place."""
    posterior = bundled_posterior()
    assert posterior is not None
    rows = dict(bundled().parameters.rows)
    rows[FITTED_WITH_LEAK] = replace(rows[FITTED_WITH_LEAK], value=2.5)
    own = ParameterTable(rows, posterior.believed_of(ParameterTable(rows)))
    assert float(own.typical().activity_driving) == 2.5
    assert own.believed(FITTED_WITH_LEAK) == rows[FITTED_WITH_LEAK]
    assert float(own.published().typical().rest_heat_w_kg) == rows["rest_heat_w_kg"].value
    assert float(own.typical().rest_heat_w_kg) != rows["rest_heat_w_kg"].value
