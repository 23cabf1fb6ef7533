"""The one place that decides, on records made by hand: standing, order, decision, departures that are alike."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from planner.app.answer.decide import alike, classed, decision_of, folded, helps, leaves_bees, order, stands
from planner.app.answer.otherwise import nearest
from planner.app.answer.records import (
    Band,
    Candidate,
    ClosingChoice,
    GroupChoice,
    Key,
    Tolerance,
)
from planner.app.answer.tally import interval, reached, span_of
from planner.model.compare import HEADROOM_STEP_K
from planner.store.rules import answer_rules
from tests.app.answered import tiny

BOXES = 10
USUAL = Tolerance(10.0, 5.0, "default")


def made(
    hits: int = 0,
    samples: int = 1024,
    *,
    departure: int = 0,
    boxes: float | None = None,
    spare_k: float = 6.0,
    setup: str = "as_declared",
    tolerance: Tolerance = USUAL,
    home: float = 1.0,
    shut_h: float = 3.0,
    **more: object,
) -> Candidate:
    """A candidate harmed in so many samples; ``boxes`` expected harmed, by default all of them each time."""
    leave = 1000.0 + 3600.0 * departure
    closing = ClosingChoice("at_loading", leave, False, home)
    expected = hits if boxes is None else boxes * samples / BOXES
    one = Candidate(
        key=Key(departure, 0, (0,) if setup == "as_declared" else (1,), (0,)),
        leave_s=leave,
        leave_from_s=leave,
        leave_to_s=leave,
        arrive_s=leave + 3600.0,
        shut_s=leave,
        open_s=leave + 3600.0 * shut_h,
        place="open_trailer",
        setup=setup,
        by_group=(GroupChoice("nucs", "open_trailer", setup, closing),),
        samples=samples,
        harm_of_100=span_of(hits, samples),
        boxes_harmed_expected=span_of(expected, samples, BOXES, 3),
        workers_dead_share=Band(0.0, 0.0, 0.0),
        headroom_k=Band(spare_k - 1.0, spare_k, spare_k + 1.0),
        groups=(),
        changes=0 if setup == "as_declared" else 1,
    )
    return classed(replace(one, **more), tolerance, BOXES)  # type: ignore[arg-type]


# -- intervals -----------------------------------------------------------------------------------------


@given(st.integers(1, 1024), st.data())
def test_the_interval_of_a_share_is_the_exact_binomial_one(samples: int, data: st.DataObject) -> None:
    """Oracle: scipy's binomtest, Clopper and Pearson's method."""
    hits = data.draw(st.integers(0, samples))
    found = binomtest(hits, samples).proportion_ci(0.9, method="exact")
    assert interval(float(hits), samples) == pytest.approx((found.low, found.high), abs=1e-9)


@given(st.integers(1, 1024), st.data())
def test_brackets_are_in_order(samples: int, data: st.DataObject) -> None:
    hits = data.draw(st.floats(0.0, float(samples)))
    span = span_of(hits, samples)
    assert 0.0 <= span.low <= span.value <= span.high <= 100.0


def test_none_of_32_leaves_up_to_8_of_100_open() -> None:
    assert 8.0 < span_of(0, 32).high < 9.0


# -- standing and classes --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("hits", "samples", "standing"),
    [(0, 8, "open"), (0, 32, "open"), (0, 128, "within"), (300, 1024, "above"), (102, 1024, "above")],
)
def test_few_samples_decide_nothing(hits: int, samples: int, standing: str) -> None:
    assert made(hits, samples).standing == standing


def test_boxes_count_beside_variants() -> None:
    """7 of 100 variants are within 10, but all boxes each time are more than 5 of 100 boxes."""
    assert made(72, boxes=0.1).standing == "within"
    assert made(72).standing == "above"


@pytest.mark.parametrize(("hits", "standing"), [(95, "open"), (110, "open"), (80, "within"), (130, "above")])
def test_the_ends_of_the_share_of_harm_decide_alone_where_boxes_do_not(hits: int, standing: str) -> None:
    """9.3 of 100 may be 11, 10.7 may be 9: neither is known to be on one side of 10."""
    assert made(hits, boxes=0.0).standing == standing


@given(st.integers(0, 1024), st.floats(0.0, 50.0), st.floats(0.0, 50.0))
def test_standing_is_what_the_shown_figures_say(hits: int, harm: float, boxes: float) -> None:
    one = made(hits, tolerance=Tolerance(harm, boxes, "trip"))
    assert one.harm_of_100 is not None
    assert one.boxes_harmed_expected is not None
    within = one.harm_of_100.high <= harm and one.boxes_harmed_expected.high <= boxes * BOXES / 100.0
    assert (stands(one, Tolerance(harm, boxes, "trip"), BOXES) == "within") is within


@pytest.mark.parametrize(
    ("of_100", "word"),
    [(0.0, "safe"), (5.4, "safe"), (5.6, "doubtful"), (15.4, "doubtful"), (16.0, "risky"), (31.0, "bad"),
     (60.4, "bad"), (61.0, "deadly"), (100.0, "deadly")],
)  # fmt: skip
def test_the_five_words_by_the_figure_that_is_shown(of_100: float, word: str) -> None:
    assert answer_rules().class_of(of_100) == word


# -- the decision ------------------------------------------------------------------------------------------


def test_four_decisions() -> None:
    good, changed, bad = made(0), made(0, setup="roof_screen"), made(700)
    unsure = made(60, boxes=0.52)
    assert unsure.standing == "open"
    assert decision_of([bad, good]) == "go"
    assert decision_of([bad, changed]) == "go_if"
    assert decision_of([bad, unsure]) == "cannot_tell"
    assert decision_of([bad]) == "do_not_go"


def test_what_does_not_fit_is_never_go() -> None:
    assert decision_of([made(0, fits=False)]) == "do_not_go"


def test_few_samples_leave_the_decision_open() -> None:
    """3 of 32 may still be one of 100: until that is known, nobody says that nothing does."""
    assert decision_of([made(700), made(3, 32)]) == "cannot_tell"
    assert decision_of([made(700), made(30, 32)]) == "do_not_go"


def test_no_figures_anywhere_is_cannot_tell() -> None:
    blank = made(0, harm_of_100=None, boxes_harmed_expected=None)
    assert blank.standing == "unknown"
    assert decision_of([blank]) == "cannot_tell"


def test_unknown_departures_are_never_go_and_come_last() -> None:
    blank = made(0, harm_of_100=None, boxes_harmed_expected=None)
    bad = made(900)
    assert decision_of([blank, bad]) == "do_not_go"
    assert order(bad, BOXES) < order(blank, BOXES)


# -- the order ------------------------------------------------------------------------------------------------


def test_beyond_enough_headroom_fewer_hours_shut_come_first() -> None:
    """Found in use: the night shut in was taken for a gain of half a kelvin nobody needs."""
    short, long = made(0, spare_k=5.0, shut_h=9.0), made(0, spare_k=9.0, shut_h=22.0)
    assert order(short, BOXES) < order(long, BOXES)


def test_of_those_within_less_harm_comes_before_more_headroom() -> None:
    harmless, roomy = made(0, boxes=0.0, spare_k=1.5), made(60, boxes=0.0, spare_k=9.0)
    assert harmless.standing == roomy.standing == "within"
    assert order(harmless, BOXES) < order(roomy, BOXES)


def test_bees_left_behind_cost_hours() -> None:
    dawn, noon = made(0, shut_h=6.0), made(0, shut_h=4.0, home=0.0)
    assert order(dawn, BOXES) < order(noon, BOXES)


def test_what_fits_comes_before_what_does_less_harm() -> None:
    assert order(made(700), BOXES) < order(made(0, fits=False), BOXES)


def test_a_missed_wish_comes_after_a_kept_one() -> None:
    assert order(made(0), BOXES) < order(made(0, misses=("light",)), BOXES)


def test_as_declared_comes_before_changed_where_both_are_within() -> None:
    assert order(made(20, boxes=0.1), BOXES) < order(made(0, setup="roof_screen"), BOXES)


def test_of_those_above_fewer_boxes_then_fewer_dead_then_later_harm() -> None:
    fewer = made(700, boxes=2.0, workers_dead_share=Band(0.0, 0.9, 1.0))
    more = made(700, boxes=6.0, workers_dead_share=Band(0.0, 0.0, 0.0))
    assert order(fewer, BOXES) < order(more, BOXES)
    living = made(700, workers_dead_share=Band(0.0, 0.1, 0.2))
    dying = made(700, workers_dead_share=Band(0.0, 0.5, 0.6))
    assert order(living, BOXES) < order(dying, BOXES)
    late, soon = made(700, first_harm_h=6.0), made(700, first_harm_h=1.0)
    assert order(late, BOXES) < order(soon, BOXES)


@pytest.mark.parametrize(
    ("better", "worse"),
    [
        ({"changes": 0}, {"changes": 1}),
        ({"misses": ()}, {"misses": ("light",)}),
        ({"misses": ("gate",)}, {"misses": ("light", "gate")}),
        ({"spare_k": 4.0}, {"spare_k": 1.0}),
        ({"ruined_share": 0.1}, {"ruined_share": 0.2}),
        ({"shut_h": 3.0}, {"shut_h": 9.0}),
        ({"work": 1}, {"work": 2}),
    ],
)
def test_of_those_above_that_harm_alike_each_other_trouble_comes_after_none(
    better: dict[str, Any], worse: dict[str, Any]
) -> None:
    assert order(made(700, **better), BOXES) < order(made(700, **worse), BOXES)


def test_of_those_above_a_missed_wish_comes_before_a_change_and_headroom_before_neither() -> None:
    changed, missed = made(700, changes=1), made(700, misses=("light",))
    assert order(missed, BOXES) < order(changed, BOXES)
    assert order(made(700, spare_k=1.0), BOXES) < order(made(700, misses=("light",), spare_k=9.0), BOXES)


def test_least_harm_comes_first_however_many_samples_told_it() -> None:
    """Found in use: 85 of 100 in 1,024 samples stood before 57 of 100 in 128."""
    assert order(made(73, 128), BOXES) < order(made(870), BOXES)
    assert order(made(512), BOXES) < order(made(64, 128), BOXES)


# -- alike departures -------------------------------------------------------------------------------------------


def test_alike_departures_are_one_window_around_each() -> None:
    row = [made(n, departure=d) for d, n in enumerate((0, 1, 2, 700, 0))]
    found = folded(row)
    assert [(one.leave_from_s, one.leave_to_s) for one in found[:3]] == [(1000.0, 8200.0)] * 3
    assert found[3].leave_from_s == found[3].leave_to_s == found[3].leave_s
    assert found[4].leave_from_s == found[4].leave_s
    assert all(one.leave_from_s <= one.leave_s <= one.leave_to_s for one in found)


def test_more_headroom_than_the_model_can_tell_apart_is_another_answer() -> None:
    assert alike(made(0, spare_k=6.0), made(0, spare_k=9.0))
    assert not alike(made(0, spare_k=4.0), made(0, spare_k=1.0))


def test_one_step_of_headroom_apart_is_alike_and_two_are_not() -> None:
    few = 0.1 + HEADROOM_STEP_K
    assert alike(made(0, spare_k=few), made(0, spare_k=few + HEADROOM_STEP_K))
    assert not alike(made(0, spare_k=few), made(0, spare_k=few + 2.0 * HEADROOM_STEP_K))


def test_a_change_helps_where_chance_does_not_explain_it() -> None:
    """5 of 100 instead of 6 in the same variants may be chance, none instead of 6 is not."""
    assert helps(made(0, setup="roof_screen"), made(60))
    assert not helps(made(50, setup="roof_screen"), made(60))
    assert not helps(made(0, 8, setup="roof_screen"), made(60))


def test_bees_left_behind_and_a_night_shut_are_another_answer() -> None:
    """From four hours on what it costs to be shut is said: such a start is none of a window that is shut for less."""
    assert not alike(made(0, home=1.0), made(0, home=0.2))
    assert alike(made(0, home=1.0), made(0, home=0.95))
    assert alike(made(0, shut_h=3.0), made(0, shut_h=6.5))
    assert not alike(made(0, shut_h=3.0), made(0, shut_h=7.0))


def test_a_gap_in_the_departures_ends_a_window() -> None:
    found = folded([made(0, departure=0), made(0, departure=2)])
    assert found[0].leave_to_s == found[0].leave_s
    assert found[1].leave_from_s == found[1].leave_s


def test_alike_asks_nobody_first() -> None:
    """1 of 8 may be 29 of 100, whatever 29 of 100 in many samples may be."""
    much = Tolerance(50.0, 50.0, "trip")
    few, many = made(1, 8, tolerance=much), made(300, tolerance=much)
    assert alike(few, many)
    assert alike(many, few)


def test_bees_are_left_behind_just_beyond_what_is_wished() -> None:
    most = answer_rules().left_of_100
    assert not leaves_bees(1.0 - 0.9 * most / 100.0)
    assert leaves_bees(1.0 - 1.1 * most / 100.0)


def test_a_start_outside_the_window_that_is_named_has_room() -> None:
    planned = tiny(departures=1)
    crowded, roomy = made(0, fits=False), made(0, departure=1)
    assert nearest([crowded, roomy], planned) is roomy
    assert nearest([crowded], planned) is None


@given(st.lists(st.floats(-20.0, 20.0).filter(lambda one: abs(one) >= 0.01), min_size=1, max_size=200))
def test_what_so_many_of_100_go_beyond_has_the_sign_of_their_share(values: list[float]) -> None:
    """5, 50 and 95 of 100: below zero just where so many are, in however few samples; nothing between two of them."""
    band = reached(np.array(values), 2)
    assert band is not None
    below = sum(one < 0.0 for one in values)
    for figure, of_100 in ((band.p5, 5), (band.p50, 50), (band.p95, 95)):
        assert (figure < 0.0) == (100 * below >= of_100 * len(values))
        assert figure in {round(one, 2) for one in values}
