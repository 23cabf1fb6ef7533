"""Ranges narrowed by the trade's judgement: how rows are weighed, what samples make of it, and when it is stale."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.app.chance.samples import SampleSpace
from planner.app.trade.likelihood import (
    LEAST_EFFECTIVE,
    RULES,
    effective_share,
    log_likelihood,
    logit,
    outside,
    row_weights,
    tempered,
    top_share,
    weights_of,
)
from planner.app.trade.narrow import SCRIPTS, Size, judged_sets, narrowed, quantiles
from planner.app.trade.sets import (
    BOX_SCATTER,
    DRAWN,
    LOAD_SCATTER,
    Effort,
    prior_sets,
    ruined_shares,
    scatter,
)
from planner.app.trade.table import load_trade_year
from planner.model.parameters import ParameterTable
from planner.store.catalogue import load_catalogue
from planner.store.forecast_error import load_forecast_error
from planner.store.posterior import (
    LEAK,
    LEVELS,
    Narrowed,
    Posterior,
    bundled_posterior,
    fingerprint,
    read_posterior,
    write_posterior,
)

CATALOGUE = load_catalogue()
TABLE = CATALOGUE.parameters
YEAR = load_trade_year(CATALOGUE)
ROWS = YEAR.rows
NOON = 1_750_000_000.0

ARRIVES, RUINED, OPEN = "mating_nucs_van_cool", "clear_crate_in_sun", "weak_hive_shut_car_hot"
SOME = replace(YEAR, rows={name: ROWS[name] for name in (ARRIVES, RUINED, OPEN)})


# -- how rows are weighed ------------------------------------------------------------------------


def test_a_share_inside_its_range_is_no_distance_outside() -> None:
    low, high = np.array([0.1]), np.array([0.5])
    at = outside(np.array([[0.1], [0.3], [0.5], [0.6]]), low, high)[:, 0]
    assert at[:3].tolist() == [0.0, 0.0, 0.0]
    assert at[3] == pytest.approx(float(logit(np.array(0.6)) - logit(np.array(0.5))))


def test_no_share_is_endlessly_far() -> None:
    assert np.isfinite(logit(np.array([0.0, 1.0]))).all()


def test_one_row_costs_no_more_than_the_chance_that_it_is_wrong() -> None:
    """log e times its weight: no single load decides."""
    rows = [replace(ROWS[ARRIVES], weight=1.0), ROWS[RUINED]]
    best, worst = log_likelihood(np.array([[0.0, 1.0], [1.0, 1.0]]), rows)
    assert best == pytest.approx(0.0, abs=1e-9)
    assert worst == pytest.approx(np.log(RULES.error_share) * row_weights(rows)[0], rel=1e-6)


def test_rows_that_arrive_weigh_together_what_ruined_ones_do() -> None:
    rows = list(ROWS.values())
    weights = row_weights(rows)
    senses = np.array([row.sense for row in rows])
    assert weights[senses == "ordinary"].sum() == pytest.approx(weights[senses == "ruining"].sum())


def test_rows_of_a_kind_share_its_weight_and_one_trip_told_once_counts_a_quarter() -> None:
    kind = [row for row in ROWS.values() if row.kind.name == "shut_space" and row.sense == "open"]
    weights = dict(zip((row.name for row in kind), row_weights(kind), strict=True))
    assert weights["hives_three_days_closed_van"] == pytest.approx(
        weights["gummed_hive_estate_shut_cool"] / 4
    )


def test_held_out_kinds_do_not_count() -> None:
    rows = list(ROWS.values())
    share = np.full((2, len(rows)), 0.3)
    share[1, [row.kind.held_out for row in rows]] = 0.9
    assert np.ptp(log_likelihood(share, rows)) == 0.0


def test_the_exponent_leaves_the_share_of_sets_that_must_count() -> None:
    log_l = np.random.default_rng(0).normal(0.0, 4.0, 4000)
    exponent = tempered(log_l)
    assert 0.0 < exponent < 1.0
    assert effective_share(log_l, 1.0) < LEAST_EFFECTIVE
    assert effective_share(log_l, exponent) == pytest.approx(LEAST_EFFECTIVE, rel=1e-3)
    assert tempered(0.01 * log_l) == 1.0


def test_sets_looked_at_more_often_weigh_less_for_it() -> None:
    """Importance weights: what was chosen in proportion to its weight ends with weights all alike."""
    log_l = np.log([0.1, 0.2, 0.7])
    assert weights_of(log_l, 1.0, np.array([0.1, 0.2, 0.7])) == pytest.approx([1 / 3] * 3)
    assert weights_of(log_l, 1.0) == pytest.approx([0.1, 0.2, 0.7])


def test_the_weight_of_the_top_hundredth_is_that_of_the_heaviest() -> None:
    weights = np.full(200, 0.9 / 198)
    weights[:2] = 0.05
    assert top_share(weights) == pytest.approx(0.1)


def test_weighted_quantiles_are_plain_ones_for_even_weights() -> None:
    values = np.random.default_rng(1).normal(size=2001)
    assert quantiles(values, np.full(2001, 1 / 2001), (0.1, 0.5, 0.9)) == pytest.approx(
        np.quantile(values, (0.1, 0.5, 0.9)), abs=0.01
    )


# -- sets and what they ruin ---------------------------------------------------------------------


def test_every_number_drawn_is_a_row_of_the_table() -> None:
    assert set(DRAWN) <= set(TABLE.rows)


def test_before_any_judgement_driving_activity_is_two_and_mostly_from_1_2_to_3_5() -> None:
    drawn = prior_sets(TABLE, 20_000, np.random.default_rng(0)).values["activity_driving"]
    assert np.quantile(drawn, (0.025, 0.5, 0.975)) == pytest.approx([1.2, 2.0, 3.5], rel=0.04)


def test_more_heat_ruins_no_fewer_boxes() -> None:
    """The same boxes, by the same chance, with bees that work harder."""
    sets = prior_sets(TABLE, 8, np.random.default_rng(0))
    hot = replace(sets, values={**sets.values, "activity_driving": sets.values["activity_driving"] * 1.5})
    row = [ROWS["gummed_hive_estate_shut_mild"]]
    cooler, hotter = (ruined_shares(row, some, Effort(2, 2), 5, CATALOGUE).mean() for some in (sets, hot))
    assert hotter >= cooler


def test_scatter_of_a_box_is_that_of_its_load_and_its_own() -> None:
    for name, value in scatter().items():
        assert value**2 == pytest.approx(LOAD_SCATTER[name] ** 2 + BOX_SCATTER[name] ** 2)


# -- the whole of it, small ----------------------------------------------------------------------


@pytest.fixture(scope="module")
def small() -> Posterior:
    judged = judged_sets(SOME, CATALOGUE, Size(24, 12, Effort(1, 2)), seed=3)
    return narrowed(judged, TABLE, 3, "2026-11-26")


def test_a_posterior_is_written_and_read_back(small: Posterior, tmp_path) -> None:
    write_posterior(small, tmp_path / "posterior.toml")
    back = read_posterior(tmp_path / "posterior.toml")
    assert back.made_of == small.made_of == fingerprint(*SCRIPTS)
    assert back.correlation == pytest.approx(small.correlation, abs=1e-3)
    assert back.scatter == pytest.approx(small.scatter, rel=1e-3)
    for name, row in small.rows.items():
        assert back.rows[name].made_from == row.made_from
        assert back.rows[name].posterior == pytest.approx(row.posterior, rel=1e-3)
    assert back.report["rows"][RUINED]["posterior"] == pytest.approx(
        small.report["rows"][RUINED]["posterior"], abs=1e-3
    )


def test_what_is_told_of_it_is_told(small: Posterior) -> None:
    told = small.report
    assert told["sets"] == 12
    assert 0.0 < told["exponent"] <= 1.0
    assert told["effective_share"] >= LEAST_EFFECTIVE * 0.99
    assert set(told["left_out"]) == {"cold", "parked_in_sun"}
    assert len(told["rules"]) == 6
    assert set(told["rows"]) == set(SOME.rows)


@pytest.mark.xfail(
    strict=True,
    reason="the air between rows was told anew (row_stated_k) after it was made; a run of 64 loads is due",
)
def test_the_bundled_posterior_is_of_the_tables_and_the_way_it_is_made_as_they_stand() -> None:
    """Stale: run ``python tools/calibrate.py``."""
    found = bundled_posterior()
    if found is None:
        pytest.skip("none has been made")
    assert found.made_of == fingerprint(*SCRIPTS)
    assert set(found.report["rows"]) == set(ROWS)


def test_the_fingerprint_is_of_the_scripts_too() -> None:
    assert fingerprint(*SCRIPTS) != fingerprint(*SCRIPTS[:-1])


# -- what samples make of it ---------------------------------------------------------------------


def handmade(**rows: Narrowed) -> Posterior:
    middle = np.interp(LEVELS, (0.0, 1.0), (1.0, 1.2))
    known = {
        "activity_driving": Narrowed(figures("activity_driving"), middle, middle),
        "rest_heat_w_kg": Narrowed(figures("rest_heat_w_kg"), middle + 6.0, middle + 6.0),
        **rows,
    }
    alike = np.full((len(known), len(known)), 0.6)
    np.fill_diagonal(alike, 1.0)
    return Posterior("x", "2026-11-26", 1, known, alike)


def figures(name: str) -> tuple[float, float, float]:
    row = TABLE.rows[name]
    return row.value, row.low, row.high


def space(posterior: Posterior | None, table: ParameterTable = TABLE) -> SampleSpace:
    return SampleSpace(table, ("seat",), NOON, NOON + 3600.0, load_forecast_error(), posterior=posterior)


def drawn(posterior: Posterior | None, table: ParameterTable = TABLE):
    return space(posterior, table).sample(1024, np.random.default_rng(0))


def test_samples_come_from_the_posterior_together() -> None:
    values = drawn(handmade()).values
    assert values["activity_driving"].min() >= 1.0
    assert values["activity_driving"].max() <= 1.2
    assert np.median(values["activity_driving"]) == pytest.approx(1.1, abs=0.01)
    alike = np.corrcoef(values["activity_driving"], values["rest_heat_w_kg"])[0, 1]
    assert alike == pytest.approx(0.6, abs=0.06)


def test_the_agitation_of_a_sample_goes_with_its_narrowed_numbers() -> None:
    sample = drawn(handmade())
    assert np.corrcoef(sample.agitation, sample.values["activity_driving"])[0, 1] > 0.2


def test_where_every_row_is_overridden_nothing_is_narrowed() -> None:
    rows = {
        name: replace(TABLE.rows[name], high=TABLE.rows[name].high * 1.1)
        for name in ("activity_driving", "rest_heat_w_kg")
    }
    table = ParameterTable({**TABLE.rows, **rows})
    assert drawn(handmade(), table).values["rest_heat_w_kg"].max() > 10.5


def test_a_row_that_a_catalogue_overrides_goes_back_to_its_own_range() -> None:
    own = replace(TABLE.rows["activity_driving"], value=3.0, low=2.9, high=3.1)
    table = ParameterTable({**TABLE.rows, "activity_driving": own})
    values = drawn(handmade(), table).values
    assert values["activity_driving"].min() >= 2.9
    assert values["rest_heat_w_kg"].max() <= 7.2


def test_without_a_posterior_every_number_lies_in_its_own_range() -> None:
    row = TABLE.rows["activity_driving"]
    values = drawn(None).values["activity_driving"]
    assert row.low <= values.min() < 1.4
    assert 3.3 < values.max() <= row.high


def around_two() -> Narrowed:
    near = np.interp(LEVELS, (0.0, 1.0), (1.9, 2.1))
    return Narrowed(figures("activity_driving"), near, near)


def test_loads_and_boxes_scatter_about_what_is_common() -> None:
    common = handmade(activity_driving=around_two())
    plain, wide = (drawn(replace(common, scatter=sd)).values for sd in ({}, {"activity": 0.15}))
    assert np.std(np.log(plain["activity_driving"])) < 0.1
    assert np.std(np.log(wide["activity_driving"])) == pytest.approx(0.15, rel=0.1)
    assert plain["rest_heat_w_kg"] == pytest.approx(wide["rest_heat_w_kg"], abs=0.2)


def test_no_load_or_box_scatters_out_of_the_published_range() -> None:
    """The range of a row is that of boxes: bees on a frame vary by 30 %, and no bee that is shut in rests deeper."""
    wild = replace(handmade(activity_driving=around_two()), scatter={"activity": 0.6})
    values = drawn(wild).values["activity_driving"]
    row = TABLE.rows["activity_driving"]
    assert (values.min(), values.max()) == (row.low, row.high)


@pytest.mark.parametrize("name", ["frame_bees_factor", *(n for n in TABLE.rows if n.startswith("activity_"))])
def test_calm_and_agitated_bees_stay_within_the_published_range(name: str) -> None:
    row, believed = TABLE.rows[name], TABLE.believed(name)
    assert row.low <= believed.low < believed.value < believed.high <= row.high


def test_what_is_believed_of_boxes_is_what_samples_draw() -> None:
    wide = replace(handmade(activity_driving=around_two()), scatter={"activity": 0.4})
    values = drawn(wide).values["activity_driving"]
    found = wide.believed_of(TABLE)["activity_driving"]
    assert np.quantile(values, (0.05, 0.95)) == pytest.approx((found.low, found.high), rel=0.03)
    assert values.mean() == pytest.approx(found.value, rel=0.02)


def test_leaks_are_narrowed_by_their_place_in_the_range() -> None:
    tight = Narrowed((0.0, -1.0, 1.0), np.array(LEVELS), np.interp(LEVELS, (0.0, 1.0), (-0.9, -0.5)))
    leak = drawn(handmade(**{LEAK: tight})).leak
    assert leak.min() >= -0.9
    assert leak.max() <= -0.5


def test_every_column_is_an_uncertainty_about_something() -> None:
    from planner.app.chance.samples import SUBJECTS

    found = space(replace(handmade(), scatter={"bees": 0.2, "activity": 0.3, "leak": 0.4}))
    assert set(found.subjects) <= set(SUBJECTS)
