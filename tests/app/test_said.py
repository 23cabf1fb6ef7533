"""What the answer says where its words could do harm: found by trips of a stranger to the program."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.app.answer.records import (
    CANNOT_TELL,
    DO_NOT_GO,
    GO,
    Answer,
    Band,
    Candidate,
    DecisionName,
    GroupFate,
    Span,
)
from planner.app.answer.words import table, worded
from planner.units import US
from tests.app.answered import answered, tiny
from tests.model.scenarios import catalogue

COOLER, WARMER = "degrees of cooler air", "degrees of warmer air"


@pytest.fixture(scope="module")
def plain() -> Answer:
    """One departure in one place, told by few samples."""
    return answered(tiny(departures=1), counts=(8,), otherwise=False)


def best_of(found: Answer) -> Candidate:
    assert found.best is not None
    return found.best


def said(found: Answer, one: Candidate, decision: DecisionName | None = None) -> Answer:
    """The answer with its best candidate, and the decision, as written down here."""
    changed = replace(found, best=one, candidates=(one, *found.candidates[1:]))
    return worded(changed if decision is None else replace(changed, decision=decision), catalogue())


def harmed(found: Answer, *, cold: bool) -> Candidate:
    """The best candidate with harm in 90 of 100 variants, by cold or by heat, and for agitated bees too."""
    best = best_of(found)
    much, none = Span(85.0, 90.0, 95.0), Span(0.0, 0.0, 2.0)
    group: GroupFate = best.groups[0]
    shares = dict.fromkeys(group.harm_of_100, none) | {"any": much, "chill" if cold else "brood": much}
    return replace(
        best,
        harm_of_100=much,
        groups=(replace(group, harm_of_100=shares),),
        headroom_k=Band(-9.0, -5.0, 2.0),
        headroom_exact=True,
        harm_agitated=True,
        agitated_of_100=90.0,
    )


@pytest.mark.parametrize("decision", [DO_NOT_GO, CANNOT_TELL])
def test_no_start_is_offered_below_an_answer_that_offers_none(plain: Answer, decision: DecisionName) -> None:
    """Under *do not go* stood: Only the start at Wednesday 12:00."""
    window = said(plain, harmed(plain, cold=False), decision).window
    assert window.startswith("No start ")
    assert "Only" not in window
    assert "Any start" not in window


def test_chilled_bees_are_never_to_be_given_water(plain: Answer) -> None:
    """In the cold the agitated quarter was to be met with water and an open place."""
    cold = " ".join(said(plain, harmed(plain, cold=True), DO_NOT_GO).cautions)
    assert "have water" not in cold
    assert "no water" in cold
    assert "have water" in " ".join(said(plain, harmed(plain, cold=False), DO_NOT_GO).cautions)


def test_the_missing_degrees_say_which_way(plain: Answer) -> None:
    """Degrees of cooler or warmer air: whoever chills needs warmer air, whoever overheats cooler."""
    cold = said(plain, harmed(plain, cold=True), DO_NOT_GO).reasons[0]
    hot = said(plain, harmed(plain, cold=False), DO_NOT_GO).reasons[0]
    assert WARMER in cold
    assert COOLER not in cold
    assert COOLER in hot


def test_headroom_at_the_end_of_what_was_tried_is_that_or_more(plain: Answer) -> None:
    """Twenty degrees is the farthest shift of the air that is tried; it was printed as a measured 20.0."""
    wide = replace(best_of(plain), headroom_k=Band(-20.0, 12.0, 20.0), headroom_exact=True)
    found = said(plain, wide)
    assert "-20.0 degrees or less to 20.0 degrees or more" in found.reasons[0]
    assert table(found, catalogue())[0]["headroom"] == "12 (-20 or less to 20 or more)"
    us = worded(found, catalogue(), US)
    assert "-36.0 °F or less to 36.0 °F or more" in us.reasons[0]


def test_boxes_harmed_are_told_in_the_measure_they_are_accepted_in(plain: Answer) -> None:
    """One box: harm in 4 of 100 variants, with 0.0 of 1 boxes harmed, 5 of 100 boxes accepted, and no decision."""
    one = replace(
        best_of(plain), harm_of_100=Span(3.1, 4.3, 5.4), boxes_harmed_expected=Span(0.031, 0.043, 0.054)
    )
    assert "and to 4.3 of 100 boxes (3.1 to 5.4)" in said(plain, one, CANNOT_TELL).sentence


def test_a_place_is_not_alike_to_itself(plain: Answer) -> None:
    """A trip with a single place had one more place alike, where another way to shut came to the same."""
    best = best_of(plain)
    twin = replace(best, key=replace(best.key, closings=(9, *best.key.closings[1:])))
    rows = table(replace(plain, candidates=(best, twin)), catalogue())
    assert [row["remarks"] for row in rows] == [""]


def test_who_arrives_before_the_gate_opens_is_told_that_the_wait_is_not_counted(plain: Answer) -> None:
    """Shut at the gate for seven hours, and open again half an hour after arrival by the figures."""
    sentence = said(plain, replace(best_of(plain), misses=("gate",))).sentence
    assert "the wait there is not counted" in sentence


def test_departures_of_more_than_a_week_are_told_by_date(plain: Answer) -> None:
    """Leaving Wednesday 20:30, in a window with two Wednesdays."""
    best, trip = best_of(plain), plain.trip
    assert trip is not None
    two_days = replace(best, leave_to_s=best.leave_s + 86400.0)
    assert "Tuesday 23:00" in said(plain, best).next_best + said(plain, best, GO).sentence
    for one, leave in (
        (best, "Tuesday 6 July, 23:00"),
        (two_days, "Tuesday 6 July, 23:00 to Wednesday 7 July, 23:00"),
    ):
        long = replace(trip.window, last_s=trip.window.first_s + 8 * 86400.0)
        found = said(replace(plain, trip=replace(trip, window=long)), one, GO)
        assert "Tuesday 6 July, 23:00" in found.sentence
        assert table(found, catalogue())[0]["leave"] == leave
