"""Charts told once: limits of what is in the box, by the catalogue in use; places that read back; curves cut clean."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.app.common.chart import Axis, Box, Chart, Frame, Line, Rule, Tick, hour_ticks, round_ticks
from planner.app.common.limits_words import group_limits, peak_limits
from planner.app.common.svg import chart_svg
from planner.app.plan.pictures import board_svg, curve_chart
from planner.app.plan.plan import curves
from planner.app.plan.results import Curves, Plan
from planner.model.catalogue import Catalogue
from planner.model.parameters import ParameterTable


@pytest.fixture(scope="module")
def sampled(plan: Plan, catalogue: Catalogue) -> Curves:
    return curves(plan, plan.ranking[0], catalogue)


def with_value(catalogue: Catalogue, name: str, value: float) -> Catalogue:
    """The catalogue of a user who has overridden one number."""
    rows = dict(catalogue.parameters.rows)
    rows[name] = replace(rows[name], value=value)
    return replace(catalogue, parameters=ParameterTable(rows))


def rules(chart: Chart) -> dict[str, float]:
    """The limits drawn: their words and where they stand."""
    return {mark.text: mark.at for mark in chart.marks if isinstance(mark, Rule) and mark.text}


def test_a_users_limit_moves_the_line_and_its_words(
    plan: Plan, sampled: Curves, catalogue: Catalogue
) -> None:
    own = replace(sampled, limits=group_limits(plan.trip, with_value(catalogue, "brood_caution_c", 36.0)))
    assert rules(curve_chart(sampled, 0, "UTC"))["brood caution 37 °C"] == 37.0
    drawn = rules(curve_chart(own, 0, "UTC"))
    assert drawn["brood caution 36 °C"] == 36.0
    assert "brood caution 37 °C" not in drawn


def test_no_limit_runs_through_the_words_at_the_foot(sampled: Curves) -> None:
    """The names of the phases stand in the lowest tenth; a cold limit struck them out."""
    first = sampled.limits[0][0]
    bare = curve_chart(replace(sampled, limits=((),)), 0, "UTC").y
    for share in (0.02, 0.05, 0.08):
        cold = replace(first, at_c=bare.low + share * (bare.high - bare.low), side="below")
        y = curve_chart(replace(sampled, limits=((cold,),)), 0, "UTC").y
        assert (cold.at_c - y.low) / (y.high - y.low) > 0.06


def test_a_swarm_has_no_limit_of_brood_nor_of_comb(plan: Plan, sampled: Curves, catalogue: Catalogue) -> None:
    swarm = replace(plan.trip.groups[0], open_brood_frames=0.0, sealed_brood_frames=0.0, stores_frames=0.0)
    limits = group_limits(replace(plan.trip, groups=(swarm,)), catalogue)
    words = " ".join(rules(curve_chart(replace(sampled, limits=limits), 0, "UTC")))
    assert "brood" not in words
    assert "comb" not in words
    assert "workers caution 42 °C" in words


def test_the_comb_limit_is_drawn_for_a_box_with_stores(
    plan: Plan, sampled: Curves, catalogue: Catalogue
) -> None:
    new = replace(plan.trip.groups[0], comb="new", stores_frames=1.0)
    limits = group_limits(replace(plan.trip, groups=(new,)), catalogue)
    assert rules(curve_chart(replace(sampled, limits=limits), 0, "UTC"))["stores comb danger 41 °C"] == 41.0


def test_peaks_are_held_against_the_strictest_box_aboard(plan: Plan, catalogue: Catalogue) -> None:
    swarm = replace(plan.trip.groups[0], open_brood_frames=0.0, sealed_brood_frames=0.0)
    both = group_limits(replace(plan.trip, groups=(swarm, plan.trip.groups[0])), catalogue)
    assert [limit.at_c for limit in peak_limits(both)] == [37.0, 40.0]
    assert [limit.at_c for limit in peak_limits(both[:1])] == [38.0, 45.0]


def test_limits_stand_in_the_report(plan: Plan, catalogue: Catalogue) -> None:
    assert plan.limits == group_limits(plan.trip, catalogue)
    assert board_svg(plan, plan.ranking[0]).count("<text") > len(plan.loading_places)


def test_a_point_of_the_picture_reads_back_as_data() -> None:
    frame = Frame(Box(50.0, 20.0, 200.0, 100.0), (10.0, 20.0), (4.0, 0.0))
    assert (frame.across(15.0), frame.up(1.0)) == (150.0, 45.0)
    assert frame.at(150.0, 45.0) == pytest.approx((15.0, 1.0))
    assert frame.at(49.0, 45.0) is None


def test_a_curve_ends_where_it_leaves_the_field() -> None:
    """Held at the edge it would look like data; drawn on it would cross the words around."""
    line = Line(np.array([0.0, 1.0, 2.0]), np.array([0.0, 10.0, 0.0]), "core")
    drawing = chart_svg(Chart("", Axis(0.0, 2.0), Axis(0.0, 5.0), (line,)), 124.0, 124.0)
    assert drawing.count("<path") == 2
    tops = {
        point.split()[1]
        for path in drawing.split("<path d='M")[1:]
        for point in path.split("'")[0].split("L")
    }
    assert len(tops) == 2


def test_words_of_a_chart_cannot_break_the_page() -> None:
    axis = Axis(0.0, 1.0, ((Tick(0.5, "<b>&"),),))
    assert "&lt;b&gt;&amp;" in chart_svg(Chart("<i>", axis, axis, ()))


def test_ticks_are_round() -> None:
    assert round_ticks(0.0, 200.0, 5) == (0.0, 50.0, 100.0, 150.0, 200.0)
    assert round_ticks(31.2, 38.9) == (32.0, 34.0, 36.0, 38.0)


def test_hours_are_local_on_the_night_the_clocks_go_back() -> None:
    """Europe/London, 2026-10-25: 01:00 happens twice."""
    start_s = 1_792_875_600.0
    words = [tick.text for tick in hour_ticks(start_s, start_s + 6 * 3600, "Europe/London")]
    assert words == ["22:00", "23:00", "00:00", "01:00", "01:00", "02:00", "03:00"]
