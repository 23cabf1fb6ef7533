"""A fit, rule by rule: what was driven, how wide a prior is, what the log has told, what is kept of it."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pytest

from planner.app.fit.fit import (
    FACTORS,
    PROBES,
    RANGE_SDS,
    Driven,
    Factor,
    Fit,
    _as_driven,
    _as_fitted,
    _factor,
    _log_sd,
    _one_unit,
    _prior,
    _prior_sd,
    _scaled,
    _short,
    _Spread,
    _start_sd,
    _untold,
    profile_rows,
)
from planner.app.fit.words import fit_document, fit_words, profile_of
from planner.errors import InputError
from planner.model.catalogue import Catalogue
from planner.store.catalogue import table_mark
from planner.store.loggerfile import LoggerLog
from planner.store.posterior import ACTIVITY, LEVELS, Narrowed, Posterior
from planner.store.profiles import Profile
from planner.units import US
from tests.model.scenarios import HOUR_S, NUC, SPRING, catalogue, halt, replace, road, trip, typical

LEAVE_S = SPRING + 34.0 * HOUR_S
ROWS = catalogue().parameters.rows


def factor(name: str, value: float = 1.2, told: float = 0.6) -> Factor:
    return Factor(name, value, 0.8 * value, 1.25 * value, 0.5, 2.0, told)


def fit_of(**more: Any) -> Fit:
    usual: dict[str, Any] = {
        "driven": Driven(LEAVE_S, "open_trailer"),
        "box_type": NUC.box_type,
        "factors": (factor("activity"), factor("air_flow", 0.8), factor("leak", 2.0)),
        "covariance": np.diag([0.04, 0.01, 0.09]),
        "time_s": SPRING + np.array([0.0, 600.0]),
        "logged_c": np.array([33.0, 34.0]),
        "before_c": np.array([31.0, np.nan]),
        "after_c": np.array([33.12347, 34.0]),
        "rms_before_k": 2.04,
        "rms_after_k": 0.51,
        "untold": ("this and that",),
        "hottest_c": 43.0,
    }
    return Fit(**(usual | more))


# -- as it was driven ------------------------------------------------------------------------------


def test_a_trip_is_lined_up_with_its_departure_closing_and_arrival() -> None:
    """Two hours of road; there after three and a half with half an hour's halt: one and a half times as long."""
    asked = trip((NUC, NUC), "open_trailer", stops=[halt(30)])
    way = road(2.0, waypoints=3)
    driven = Driven(
        LEAVE_S, "open_trailer", closed_s=LEAVE_S - 2.0 * HOUR_S, arrived_s=LEAVE_S + 3.5 * HOUR_S, group=1
    )
    there, timeline = _as_driven(asked, way, driven)
    assert there.drive_time_factor == pytest.approx(1.5)
    assert (there.window.first_s, there.window.last_s) == (LEAVE_S, LEAVE_S)
    assert timeline.arrive_s[0, -1] == pytest.approx(LEAVE_S + 3.5 * HOUR_S)
    assert timeline.closed_s[0].tolist() == [LEAVE_S - 0.5 * HOUR_S, LEAVE_S - 2.0 * HOUR_S]


def test_what_is_not_told_is_as_planned() -> None:
    asked = trip(NUC, "open_trailer", drive_time_factor=1.2)
    there, timeline = _as_driven(asked, road(2.0), Driven(LEAVE_S, "open_trailer"))
    assert there.drive_time_factor == 1.2
    assert timeline.closed_s[0, 0] == LEAVE_S - 0.5 * HOUR_S


@pytest.mark.parametrize(("hours", "possible"), [(0.29, False), (0.31, True), (4.9, True), (5.1, False)])
def test_a_drive_may_take_a_third_to_five_times_as_long(hours: float, possible: bool) -> None:
    asked, driven = (
        trip(NUC, "open_trailer"),
        Driven(LEAVE_S, "open_trailer", arrived_s=LEAVE_S + hours * HOUR_S),
    )
    if possible:
        assert _as_driven(asked, road(1.0), driven)[0].drive_time_factor == pytest.approx(hours)
    else:
        with pytest.raises(InputError, match="times as long"):
            _as_driven(asked, road(1.0), driven)


# -- the prior ---------------------------------------------------------------------------------------


def test_a_range_is_the_middle_nine_tenths_of_a_bell() -> None:
    """Low to high is twice 1.6449 spreads: a factor of e wide, 0.304."""
    assert pytest.approx(2.0 * 1.6449) == RANGE_SDS
    assert _log_sd(1.0, np.e) == pytest.approx(0.30397, abs=1e-5)


def test_the_prior_of_the_openings_holds_all_that_looks_alike() -> None:
    """Discharge, the bees' cover and the mesh add up as squares; activity and leak stand alone."""
    activity, flow, leak = _prior_sd(catalogue(), (0.1, 0.05, 0.4))
    cover = ROWS["bee_cover_share"]
    parts = [
        _log_sd(ROWS["discharge_mesh"].low, ROWS["discharge_mesh"].high),
        _log_sd(ROWS["mesh_porosity"].low, ROWS["mesh_porosity"].high),
        _log_sd(1.0 - cover.high, 1.0 - cover.low),
    ]
    assert flow**2 == pytest.approx(sum(part**2 for part in parts))
    assert activity == pytest.approx(_log_sd(ROWS["activity_driving"].low, ROWS["activity_driving"].high))
    assert leak == pytest.approx(np.log(8.0) / RANGE_SDS)
    assert _prior_sd(catalogue(), (0.1, 0.1, 0.1))[2] == 1e-3


def judgement(**medians: float) -> Posterior:
    """What judgement leaves of some numbers: 0.8 to 1.25 times the median in the middle nine tenths."""
    rows = {}
    for name, median in medians.items():
        row = ROWS[name]
        at = median * np.exp(np.interp(LEVELS, (0.05, 0.5, 0.95), (np.log(0.8), 0.0, np.log(1.25))))
        rows[name] = Narrowed((row.value, row.low, row.high), at, at)
    return Posterior("", "", 1, rows, np.eye(len(rows)), {ACTIVITY: 0.4})


def believing(judged: Posterior) -> Catalogue:
    """The catalogue with what a judgement leaves of it."""
    table = catalogue().parameters
    return replace(catalogue(), parameters=replace(table, narrowed=judged.believed_of(table)))


def test_a_fit_begins_at_what_judgement_leaves_and_as_wide_as_boxes_differ() -> None:
    """The catalogue says 2.0, judgement 1.5: that is typical, and factors are of what is typical.

    Oracle: boxes drawn at random, each kept within the published range.
    """
    judged = judgement(activity_driving=1.5)
    at, sd = _prior(believing(judged), (0.1, 0.05, 0.4), judged)
    plain_at, plain_sd = _prior(catalogue(), (0.1, 0.05, 0.4), None)
    assert at[0] == 0.0
    driving = believing(judged).parameters.typical().activity_driving
    rng, row = np.random.default_rng(1), judged.rows["activity_driving"]
    sets = np.interp(rng.random(100_000), LEVELS, row.posterior)
    boxes = np.clip(sets * np.exp(0.4 * rng.standard_normal(sets.size)), *row.range)
    low, high = np.quantile(boxes, (0.05, 0.95))
    assert driving == pytest.approx(boxes.mean(), rel=0.01)  # the mean box, not the middle one
    assert sd[0] == pytest.approx(np.log(high / low) / RANGE_SDS, rel=0.02)
    assert plain_at.tolist() == [0.0, 0.0, 0.0]
    assert (at[1:].tolist(), sd[1:].tolist()) == (plain_at[1:].tolist(), plain_sd[1:].tolist())


def test_a_profile_keeps_the_other_heat_where_the_fit_had_it() -> None:
    """A fit ran with 0.9 times the usual bees on a frame, as judgement leaves them: the profile says so itself."""
    found = _as_fitted(believing(judgement(frame_bees_factor=0.9)))
    assert found == {"frame_bees_factor": {"value": pytest.approx(0.9, rel=0.02), "low": 0.72, "high": 1.125}}
    assert _as_fitted(catalogue()) == {}


@pytest.mark.parametrize(("brooding", "name"), [(True, "start_brood_c"), (False, "start_broodless_c")])
def test_the_start_is_as_unsure_as_its_row(brooding: bool, name: str) -> None:
    assert _start_sd(catalogue(), brooding) == pytest.approx((ROWS[name].high - ROWS[name].low) / RANGE_SDS)


def test_factors_multiply_the_rows_they_are_about_and_no_others() -> None:
    found = _scaled(typical(), np.array([[2.0, 0.5, 9.0]]), np.array([1.5]))
    moved = {
        name: float(values[0]) / float(getattr(typical(), name))
        for name, values in found.items()
        if values[0] != getattr(typical(), name)
    }
    starts = {name: moved.pop(name) for name in ("start_brood_c", "start_broodless_c")}
    assert moved == pytest.approx(
        {"activity_waiting": 2.0, "activity_driving": 2.0, "activity_jolt": 2.0}
        | {"discharge_mesh": 0.5, "single_sided": 0.5, "cooper": 0.5}
    )
    assert starts == pytest.approx({n: 1.0 + 1.5 / float(getattr(typical(), n)) for n in starts})


# -- the spread --------------------------------------------------------------------------------------


def test_weighed_points_have_a_covariance_and_quantiles() -> None:
    """0, 2, 4 by a quarter, a half, a quarter: mean 2, variance 2; the middles of the steps at 1/8, 1/2, 7/8."""
    points = np.array([[4.0, 0.0], [0.0, 1.0], [2.0, 2.0]])
    found = _Spread(points, np.array([0.25, 0.25, 0.5]))
    assert found.covariance() == pytest.approx(np.array([[2.0, -0.5], [-0.5, 0.6875]]))
    assert found.quantiles(0, (0.05, 0.125, 0.3125, 0.5, 0.95)) == pytest.approx([0.0, 0.0, 1.0, 2.0, 4.0])


def test_where_the_misfit_has_risen_by_one() -> None:
    """A parabola with a spread of two: one at two. Never: the last probe. At once: by the root of the first."""
    assert _one_unit((PROBES / 2.0) ** 2) == pytest.approx(2.0, rel=1e-3)
    assert _one_unit((PROBES / 8.0) ** 2) == pytest.approx(8.0, rel=1e-3)
    assert _one_unit(np.zeros(PROBES.size)) == 64.0
    assert _one_unit(np.full(PROBES.size, 4.0)) == 0.125
    assert (PROBES[0], PROBES[-1]) == (0.25, 64.0)


def test_a_factor_is_told_with_its_range_and_how_much_the_log_has_told() -> None:
    """Logarithms of two points one apart, evenly: spread 0.5 of a prior of 2, so three quarters are told."""
    spread = _Spread(np.array([[-0.5, 9.0], [0.5, 9.0]]), np.array([0.5, 0.5]))
    found = _factor(0, np.array([0.1, 0.0]), spread, np.zeros(2), np.array([2.0, 1.0]))
    assert found.name == "activity"
    assert found.value == pytest.approx(np.exp(0.1))
    assert (found.low, found.high) == pytest.approx((np.exp(-0.5), np.exp(0.5)))
    assert (found.prior_low, found.prior_high) == pytest.approx((np.exp(-2 * 1.6449), np.exp(2 * 1.6449)))
    assert found.told_share == pytest.approx(0.75)
    beyond = _factor(0, np.array([0.7, 0.0]), spread, np.zeros(2), np.array([0.4, 1.0]))
    assert beyond.high == beyond.value
    assert beyond.told_share == 0.0
    below = _factor(0, np.array([-0.7, 0.0]), spread, np.zeros(2), np.array([2.0, 1.0]))
    assert below.low == below.value


@pytest.mark.parametrize(
    ("told", "together", "rms_k", "lines"),
    [
        ((0.31, 0.31, 0.31), 0.0, 0.9, 0),
        ((0.29, 0.31, 0.29), 0.0, 0.9, 2),
        ((0.31, 0.31, 0.31), 0.79, 0.9, 0),
        ((0.31, 0.31, 0.31), 0.81, 0.9, 1),
        ((0.31, 0.31, 0.31), -0.81, 0.9, 1),
        ((0.31, 0.31, 0.31), 0.0, 1.01, 1),
    ],
)
def test_what_the_log_could_not_tell_is_said(
    told: tuple[float, ...], together: float, rms_k: float, lines: int
) -> None:
    """Less than three tenths told; two factors alike by four fifths; off by more than one kelvin."""
    factors = [factor(name, told=share) for name, share in zip(FACTORS, told, strict=True)]
    spread = np.array([0.2, 0.1, 0.3])
    covariance = np.diag(spread**2)
    covariance[0, 2] = covariance[2, 0] = together * spread[0] * spread[2]
    assert len(_untold(factors, covariance, rms_k)) == lines + 1


def test_a_factor_outside_its_prior_band_is_said_and_asks_for_the_frames() -> None:
    """Heat 0.41 of the catalogue's, where half to twice was thought possible."""
    usual = [factor(name) for name in FACTORS]
    odd = [factor("activity", 0.41), *usual[1:]]
    covariance = np.diag([0.04, 0.01, 0.09])
    (said,) = set(_untold(odd, covariance, 0.5)) - set(_untold(usual, covariance, 0.5))
    assert all(figure in said for figure in ("0.41", "0.50", "2.00", "count the frames"))


def test_what_a_cool_log_could_not_see_is_said() -> None:
    usual, covariance = [factor(name) for name in FACTORS], np.diag([0.04, 0.01, 0.09])
    (said,) = set(_untold(usual, covariance, 0.5, cool=True)) - set(_untold(usual, covariance, 0.5))
    assert "never got hot" in said


# -- what is kept ------------------------------------------------------------------------------------


def test_a_profile_moves_values_and_ranges_by_the_factors() -> None:
    kept = profile_rows(fit_of(), catalogue())
    parameters: Any = kept["parameters"]
    row = parameters["activity_driving"]
    value = ROWS["activity_driving"].value
    # beside the fit's own middle nine tenths the structure of the model, a tenth either way in the logarithm
    wide = np.hypot(np.log(1.25), 1.6449 * 0.1)
    assert [row[key] for key in ("value", "low", "high")] == pytest.approx(
        [value * 1.2 * np.exp(side * wide) for side in (0.0, -1.0, 1.0)], rel=1e-4
    )
    assert parameters["cooper"]["value"] == pytest.approx(0.8 * ROWS["cooper"].value, rel=1e-4)
    assert row["grade"] == "B"
    for name in ("bee_cover_share", "mesh_porosity"):
        assert parameters[name] == {"low": ROWS[name].value, "high": ROWS[name].value}
    assert kept["box_types"][NUC.box_type]["leak_l_s"] == pytest.approx(
        [0.2 * np.exp(side * wide) for side in (0.0, -1.0, 1.0)], rel=1e-4
    )
    assert len(parameters) == 3 + 3 + 2


def test_what_the_log_says_little_about_keeps_its_grade() -> None:
    vague = fit_of(factors=(factor("activity"), factor("air_flow", told=0.1), factor("leak")))
    parameters: Any = profile_rows(vague, catalogue())["parameters"]
    assert "grade" not in parameters["cooper"]
    assert "source" not in parameters["cooper"]
    assert parameters["activity_driving"]["grade"] == "B"


def test_a_certain_log_still_leaves_the_models_structure_in_doubt() -> None:
    """However narrow the fit, nine tenths of what is kept are a sixth either way."""
    sure = Factor("activity", 1.2, 1.2, 1.2, 0.5, 2.0, 0.99)
    row: Any = profile_rows(fit_of(factors=(sure, sure, sure)), catalogue())["parameters"]["activity_driving"]
    assert row["high"] / row["value"] == pytest.approx(np.exp(0.16449), rel=1e-3)


def test_a_log_that_never_got_hot_keeps_the_doubt_about_hot_bees() -> None:
    """Activity and its gain together are as unsure as before the log; a log that got there leaves the row alone."""
    cool: Any = profile_rows(fit_of(hottest_c=37.0), catalogue())["parameters"]
    gain, activity = ROWS["agitation_gain"], factor("activity")
    kept = np.log(cool["activity_driving"]["high"] / cool["activity_driving"]["low"]) / 2.0
    hot = np.log(cool["agitation_gain"]["high"] / gain.value)
    before = np.log(activity.prior_high / activity.prior_low) / 2.0
    assert np.hypot(kept, hot) == pytest.approx(np.hypot(before, np.log(gain.high / gain.value)), rel=1e-3)
    assert cool["agitation_gain"]["high"] > gain.high
    assert "agitation_gain" not in profile_rows(fit_of(hottest_c=43.0), catalogue())["parameters"]


@pytest.mark.parametrize(
    ("value", "short"), [(1.2345678, 1.2346), (0.000123456, 0.00012346), (123456.7, 123460.0)]
)
def test_five_figures_are_kept(value: float, short: float) -> None:
    assert _short(value) == short


def test_a_profile_names_its_trips_and_what_it_is_about() -> None:
    found, today = fit_of(), date(2027, 4, 1)
    first = profile_of(found, catalogue(), "spring run", today)
    assert (first.about, first.name, first.made_on, first.trips) == (
        "box_type",
        NUC.box_type,
        "2027-04-01",
        ("spring run",),
    )
    assert first.notes == ("this and that",)
    assert first.table == table_mark()
    second: Profile = profile_of(found, catalogue(), "second run", today, yard="home", earlier=first)
    assert (second.about, second.name, second.trips) == ("yard", "home", ("spring run", "second run"))


def test_a_fit_in_words() -> None:
    log = LoggerLog(np.zeros(1), np.zeros((1, 1)), ("core",), ("a remark",))
    said = fit_words(fit_of(), log, catalogue())
    assert catalogue().box_types[NUC.box_type].title in said.headline
    assert all(figure in said.headline for figure in ("1.20", "0.96", "1.50", "2.0 degrees", "0.5 degrees"))
    factors = said.sections[0][1]
    assert len(factors) == 3
    assert all(figure in factors[2] for figure in ("2.00", "1.60", "2.50", "1.00", "0.50"))
    assert said.sections[1][1] == ("this and that",)
    assert said.sections[2][1] == ("a remark",)
    assert "3.7 °F" in fit_words(fit_of(), log, catalogue(), US).headline


def test_a_fit_says_which_profile_it_could_not_build_on() -> None:
    log = LoggerLog(np.zeros(1), np.zeros((1, 1)), ("core",), ())
    said = fit_words(fit_of(), log, replace(catalogue(), remarks=("left out",)))
    assert said.sections[-1] == ("What was not used", ("left out",))


def test_a_fit_as_a_document() -> None:
    document = fit_document(fit_of())
    assert document["factors"][1] == {
        "name": "air_flow",
        "value": 0.8,
        "low": 0.8 * 0.8,
        "high": 1.0,
        "prior_low": 0.5,
        "prior_high": 2.0,
        "told_share": 0.6,
    }
    assert document["time"] == ["2027-03-29T00:00:00Z", "2027-03-29T00:10:00Z"]
    assert document["before_c"] == [31.0, None]
    assert document["after_c"] == [33.1235, 34.0]
    assert document["covariance_of_logarithms"][1] == [0.0, 0.01, 0.0]
    assert (document["rms_before_k"], document["rms_after_k"]) == (2.04, 0.51)
    assert fit_of().factor("leak").value == 2.0
