"""What the answer says where its words could do harm: found by trips of a stranger to the program."""

from __future__ import annotations

import tomllib
from dataclasses import replace

import numpy as np
import pytest

from planner.app.answer.ask import ask
from planner.app.answer.records import (
    CANNOT_TELL,
    DO_NOT_GO,
    GO,
    GO_IF,
    Answer,
    Band,
    Candidate,
    DecisionName,
    GroupFate,
    Span,
)
from planner.app.answer.tally import headroom_side
from planner.app.answer.words import Words, table, worded
from planner.bundled import resource_path
from planner.model.records import Arrival, Closing, Moment, Stage
from planner.store.rules import answer_rules
from planner.store.tripfile import resolve
from planner.units import US, outward
from tests.app.answered import NIGHT, answered, tiny
from tests.model.scenarios import DAY_S, HOUR_S, NUC, catalogue, steady

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
    wide = replace(best_of(plain), headroom_k=Band(3.0, 12.0, 20.0), headroom_exact=True)
    found = said(plain, wide)
    assert "3 degrees to 20 degrees or more" in found.reasons[0]
    us = worded(found, catalogue(), US)
    assert "5 °F to 36 °F or more" in us.reasons[0]
    lost = said(plain, replace(wide, headroom_k=Band(-20.0, 12.0, 20.0)))
    assert "in the worst 5 of 100 one is harmed as it is" in lost.reasons[0]
    assert table(lost, catalogue())[0]["headroom"] == "12 (-20 or less to 20 or more)"


def test_boxes_harmed_are_told_in_the_measure_they_are_accepted_in(plain: Answer) -> None:
    """One box: harm in 4 of 100 variants, with 0.0 of 1 boxes harmed, 5 of 100 boxes accepted, and no decision."""
    one = replace(
        best_of(plain), harm_of_100=Span(3.1, 4.3, 5.4), boxes_harmed_expected=Span(0.031, 0.043, 0.054)
    )
    assert "and to 4.3 of 100 boxes (3.1 to 5.4)" in said(plain, one, CANNOT_TELL).sentence


def test_the_boxes_are_told_where_they_alone_forbid_the_start(plain: Answer) -> None:
    """Harm in 9 of 100 variants (7 to 11) where 10 are accepted is no reason; 8.6 of 100 boxes where 5 are is one."""
    one = replace(
        best_of(plain), harm_of_100=Span(7.2, 8.6, 10.2), boxes_harmed_expected=Span(0.072, 0.086, 0.102)
    )
    found = said(plain, one, DO_NOT_GO)
    assert "and to 8.6 of 100 boxes." in found.sentence
    assert "and to 8.6 of 100 boxes (7.2 to 10.2)" in " ".join(found.how_sure)
    sure = replace(one, harm_of_100=Span(10.2, 12.0, 14.0))
    assert "of 100 boxes" not in said(plain, sure, DO_NOT_GO).sentence


def test_the_ends_of_boxes_are_rounded_outward_as_those_of_shares_are(plain: Answer) -> None:
    """5.04 of 100 boxes where 5 are accepted stood as 5.0, and nothing told why that was no *go*; 5 itself stays 5."""
    one = replace(
        best_of(plain),
        samples=1024,
        harm_of_100=Span(3.0, 3.9, 5.0),
        boxes_harmed_expected=Span(0.0304, 0.039, 0.0504),
        standing="open",
    )
    found = said(replace(plain, settle=()), one, CANNOT_TELL)
    assert "3.9 of 100 boxes (3.0 to 5.1)" in found.sentence
    assert "up to 5.1 of 100 may be harmed" in found.settle[0]
    assert "Boxes harmed on average: 0.04 of 1 (0.03 to 0.06)." in found.how_sure
    whole = replace(one, boxes_harmed_expected=Span(0.03, 0.04, 0.06))
    assert "4.0 of 100 boxes (3.0 to 6.0)" in said(plain, whole, CANNOT_TELL).sentence
    assert 0.07 * (100.0 / 2) > 3.5, "computing blurs it"
    assert outward(0.0, 0.07 * (100.0 / 2), 1) == (0.0, 3.5)


def test_the_next_best_is_no_neighbour_of_the_best(plain: Answer) -> None:
    """Its own window runs into that of the best: little news. One that stands apart is, unless it is worse placed."""
    best = best_of(plain)
    leave = best.leave_s

    def at(hours: float, reach: float, **more: object) -> Candidate:
        at_s = leave + hours * HOUR_S
        key = replace(best.key, departure=int(hours))
        return replace(
            best, key=key, leave_s=at_s, leave_from_s=at_s - reach * HOUR_S, leave_to_s=at_s, **more
        )

    def next_of(*others: Candidate) -> str:
        return worded(replace(plain, best=best, candidates=(best, *others)), catalogue()).next_best

    assert next_of(at(1.0, 1.0), at(5.0, 1.0)).startswith("Wednesday 04:00")
    assert next_of(at(1.0, 1.0), at(5.0, 1.0, standing="above")).startswith("Wednesday 00:00")
    assert next_of(at(1.0, 1.0)).startswith("Wednesday 00:00")


def test_the_next_best_is_nothing_that_the_first_row_tells_of(plain: Answer) -> None:
    """Found in use: any start from 05:30 to 07:30, and next best: 05:30, the same in all else; or a place alike."""
    best = replace(best_of(plain), leave_to_s=best_of(plain).leave_s + 2.0 * HOUR_S)
    later = replace(best, key=replace(best.key, departure=1), leave_s=best.leave_s + HOUR_S)
    alike = replace(best, key=replace(best.key, arrangement=9), place="pickup_bed")
    other = replace(alike, harm_of_100=Span(40.0, 50.0, 60.0))

    def next_of(*others: Candidate) -> str:
        return worded(replace(plain, best=best, candidates=(best, *others)), catalogue()).next_best

    assert next_of(later) == ""
    assert next_of(alike) == ""
    assert "harm in 50 of 100 variants" in next_of(later, alike, other)
    changed = replace(later, key=replace(later.key, setups=(9,)), setup="misted")
    assert next_of(later, changed) != ""


def test_the_ranking_told_is_the_one_that_was_used(plain: Answer) -> None:
    """Where nothing is within what is accepted, boxes harmed rank before variants with harm."""
    best = best_of(plain)
    lines = {
        standing: said(plain, replace(best, standing=standing)).reasons[-1]
        for standing in ("within", "open", "above")
    }
    assert "fewer hours shut" in lines["within"]
    assert lines["open"] == lines["above"] != lines["within"]
    assert "fewest boxes harmed" in lines["above"]


def test_a_place_is_not_alike_to_itself(plain: Answer) -> None:
    """A trip with a single place had one more place alike, where another way to shut came to the same."""
    best = best_of(plain)
    twin = replace(best, key=replace(best.key, closings=(9, *best.key.closings[1:])))
    rows = table(replace(plain, candidates=(best, twin)), catalogue())
    assert [row["remarks"] for row in rows] == [""]


def test_rows_that_differ_in_their_place_alone_are_one(plain: Answer) -> None:
    """As on the board: figures that read the same are the same. What reads otherwise stands in a row of its own."""
    best = replace(best_of(plain), harm_of_100=Span(2.0, 3.0, 5.0), headroom_k=Band(3.0, 6.0, 9.0))
    elsewhere = replace(best, key=replace(best.key, arrangement=9), place="pickup_bed")

    def rows_with(*others: Candidate) -> list[dict[str, str]]:
        return table(replace(plain, best=best, candidates=(best, *others)), catalogue())

    near = replace(elsewhere, harm_of_100=Span(2.1, 2.9, 4.8), headroom_k=Band(3.2, 6.3, 9.1))
    (row,) = rows_with(near)
    assert row["remarks"].endswith("1 more place alike")
    assert row["place"] == "open trailer"
    others = (
        replace(near, harm_of_100=Span(2.1, 4.0, 4.8)),
        replace(near, headroom_k=Band(3.2, 7.3, 9.1)),
        replace(near, room="fits 2 of 12", fits=False),
        replace(near, misses=("light",)),
        replace(near, key=replace(near.key, setups=(1,))),
        replace(near, changes=1),
    )
    for other in others:
        assert [("alike" in row["remarks"]) for row in rows_with(other)] == [False, False], other


def test_who_arrives_before_the_gate_opens_waits_with_the_boxes_shut() -> None:
    """Found in use: shut at the gate for six hours, and open again half an hour after arrival by the figures."""
    gate = Arrival(gate_open_s=6.0 * HOUR_S, gate_shut_s=20.0 * HOUR_S)
    found = answered(tiny(departures=1, arrival=gate), counts=(8,), otherwise=False)
    best = best_of(found)
    assert best.misses == ("gate",)
    assert best.open_s - best.arrive_s == 6.5 * HOUR_S
    assert "waits there with the boxes aboard until Wednesday 06:00" in found.sentence


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


@pytest.mark.parametrize(
    ("span", "word"),
    [((0.0, 0.0, 4.0), "safe"), ((0.0, 0.0, 9.0), "safe"), ((0.0, 0.0, 31.2), "open"), ((19.3, 50.0, 80.7), "open"),
     ((55.0, 70.0, 83.0), "deadly")],
)  # fmt: skip
def test_few_variants_earn_no_word_of_certainty(
    plain: Answer, span: tuple[float, float, float], word: str
) -> None:
    """Eight variants without harm were called safe, while up to 31 of 100 was open."""
    one = replace(best_of(plain), harm_of_100=Span(*span))
    row = table(replace(plain, candidates=(one,), best=one), catalogue())[0]
    assert row["harm"].endswith(f" {word}")


def test_where_all_places_are_too_small_the_sentence_says_how_many_ride() -> None:
    """Not the room of the best candidate alone."""
    groups = replace(NUC, count=12)
    found = answered(
        tiny(groups, ("cabin_footwell_cooled", "cabin_seat_cooled"), departures=1),
        counts=(8,),
        otherwise=False,
    )
    assert "together hold 6 of the 12 boxes" in found.sentence


def test_a_cold_noon_leaves_no_bee_behind_and_no_box_is_misted_in_it() -> None:
    """Found in use: in frost boxes were to be shut by night, for no forager was home by day."""
    noon = NIGHT - 9.0 * HOUR_S
    planned = tiny(leave_s=noon, departures=1, closing=Closing("at_loading", fixed=True))
    cold = answered(planned, sky=steady(4.0, start_s=noon - 2 * DAY_S), counts=(8,), otherwise=False)
    warm = answered(planned, sky=steady(18.0, start_s=noon - 2 * DAY_S), counts=(8,), otherwise=False)
    assert {one.home_share for one in cold.candidates} == {1.0}
    assert min(one.home_share for one in warm.candidates) < 1.0
    assert "misted" in warm.setups
    assert "misted" not in cold.setups
    mild = answered(planned, 4.0, 20.0, counts=(8,), otherwise=False)
    assert "misted" in mild.setups, "the noon is warm enough"


def test_bees_left_behind_are_said_where_they_count_against_a_start(plain: Answer) -> None:
    best = best_of(plain)
    choice = best.by_group[0]
    left = replace(choice, closing=replace(choice.closing, home_share=0.4, fixed=True))
    found = said(plain, replace(best, by_group=(left,)), GO)
    assert "with 40 % of the bees that fly by day home" in found.sentence
    assert "bees left behind" in table(found, catalogue())[0]["remarks"]
    few = replace(choice, closing=replace(choice.closing, home_share=0.95))
    assert "foragers" not in said(plain, replace(best, by_group=(few,)), GO).sentence


def test_departures_without_weather_are_counted() -> None:
    """Found in use: a window longer than the forecast said nothing of its end."""
    sky = steady(12.0, start_s=NIGHT - 72 * HOUR_S + 5.0 * HOUR_S)
    found = answered(tiny(departures=8), sky=sky, counts=(8,), otherwise=False)
    blank = len({one.leave_s for one in found.candidates if one.harm_of_100 is None})
    assert 0 < blank < 8
    assert any(f"no weather for {blank} of the 8 departures" in line for line in found.how_sure)


def test_a_tolerance_that_nobody_can_show_is_named(plain: Answer) -> None:
    one = replace(best_of(plain), samples=1024)
    strict = replace(plain, tolerance=replace(plain.tolerance, harm_of_100=0.0))
    assert any("less than can ever be shown" in line for line in said(strict, one).how_sure)
    assert not any("less than can ever be shown" in line for line in said(plain, one).how_sure)


def test_the_worst_place_is_told_only_where_it_is_worse(plain: Answer) -> None:
    """Found in use: the worst place was harmed in 0 of 100 variants, the best in 2."""
    best = replace(best_of(plain), harm_of_100=Span(2.0, 5.0, 9.0))
    other = replace(best, place="boot_dark", harm_of_100=Span(40.0, 50.0, 60.0))

    def told(harm: tuple[float, float, float], *, fits: bool = True) -> bool:
        beside = replace(other, harm_of_100=Span(*harm), fits=fits)
        changed = worded(replace(plain, best=best, candidates=(best, beside)), catalogue())
        return any("worst place" in line for line in changed.reasons)

    assert told((40.0, 50.0, 60.0))
    assert not told((0.0, 0.0, 31.0))
    assert not told((3.0, 13.0, 48.0))
    assert not told((40.0, 50.0, 60.0), fits=False)


def test_the_best_as_declared_is_always_in_the_table(plain: Answer) -> None:
    """The sentence compares with it: as loaded, the best start brings harm in 22 of 100."""
    best = next(one for one in plain.candidates if one.setup == "as_declared")
    changed = [
        replace(best, key=replace(best.key, setups=(1,), departure=d), setup="roof_screen", changes=1, leave_s=60.0 * d,
                leave_from_s=60.0 * d, leave_to_s=60.0 * d)
        for d in range(4)
    ]  # fmt: skip
    found = replace(plain, candidates=(*changed, best), best=changed[0])
    rows = table(found, catalogue(), rows=3)
    assert len(rows) == 3
    assert rows[-1]["setup"] == "as declared"


def test_shares_are_rounded_in_one_way_and_intervals_outward(plain: Answer) -> None:
    """30.5 was 31 in the sentence, 30 on the board and risky, which ends at 30."""
    one = replace(best_of(plain), harm_of_100=Span(28.4, 30.5, 32.1))
    words = Words(plain, catalogue())
    assert "harm in 31 of 100 variants (28 to 33)" in words.harm(one)
    assert answer_rules().class_of(30.5) == "bad"


def test_heat_in_cold_air_is_named_for_nobody_expects_it(plain: Answer) -> None:
    """In frost harm in 9 of 100 variants was read as chill, and the boxes were covered."""
    one = harmed(plain, cold=False)
    frost = steady(-2.0, start_s=NIGHT - 3 * DAY_S)
    assert "by their own heat in cold air" in said(replace(plain, weather=frost), one, DO_NOT_GO).sentence
    assert "own heat" not in said(plain, one, DO_NOT_GO).sentence
    assert any("Why heat, in such cold" in text for text in said(replace(plain, weather=frost), one).reasons)
    assert not any("Why heat" in text for text in said(plain, one).reasons)
    chilled = said(replace(plain, weather=frost), harmed(plain, cold=True), DO_NOT_GO).sentence
    assert "mostly by cold" in chilled
    assert "own heat" not in chilled


@pytest.mark.parametrize(("chilled", "by_cold"), [(30.0, False), (44.0, False), (46.0, True)])
def test_most_harm_by_cold_is_more_than_half_of_it(plain: Answer, chilled: float, by_cold: bool) -> None:
    """Of 90 variants with harm: where heat harms the other half, warmer air is no help."""
    one = harmed(plain, cold=False)
    shares = dict(one.groups[0].harm_of_100) | {"chill": Span(chilled - 2.0, chilled, chilled + 2.0)}
    both = replace(one, groups=(replace(one.groups[0], harm_of_100=shares),))
    found = said(plain, both, DO_NOT_GO)
    assert ("mostly by cold" in found.sentence) == by_cold
    assert (WARMER in found.reasons[0]) == by_cold
    assert (COOLER in found.reasons[0]) != by_cold


def test_more_variants_are_what_settles_an_answer_of_few(plain: Answer) -> None:
    """Nothing that can be measured before the trip would settle it, said the answer of 64 variants."""
    assert plain.decision == CANNOT_TELL
    assert plain.settle[0] == "Only 8 variants were tried: 1024 may tell."
    assert plain.settle[0] in plain.sentence
    assert worded(plain, catalogue(), US).settle == plain.settle
    many = replace(best_of(plain), samples=1024)
    assert not any("were tried" in text for text in said(replace(plain, settle=()), many).settle)


def test_the_sentence_names_the_first_thing_that_may_settle_it_and_the_lines_below_the_rest(
    plain: Answer,
) -> None:
    """Three texts made a first sentence of a hundred words."""
    texts = ("Wait for the next forecast.", "Lay a thermometer where the boxes will ride, on a like day.")
    many = replace(best_of(plain), samples=1024)
    found = said(replace(plain, settle=texts), many, CANNOT_TELL)
    assert found.settle == texts
    assert found.sentence.endswith("What may settle it: Wait for the next forecast.")


@pytest.mark.parametrize("zero", ["harm_of_100", "boxes_of_100"])
def test_a_tolerance_that_nothing_can_meet_is_what_stands_in_the_way(plain: Answer, zero: str) -> None:
    """Of 1,024 unharmed variants 0.3 of 100 stay open (1 - 0.05^(1/1025)); a logger in a box could not settle that."""
    none = replace(best_of(plain), samples=1024, harm_of_100=Span(0.0, 0.0, 0.3))
    found = replace(plain, tolerance=replace(plain.tolerance, **{zero: 0.0}), settle=("Measure.",))
    (only,) = said(found, none, CANNOT_TELL).settle
    assert only.startswith("No trip is ever as sure as you ask")
    assert "up to 0.3 of 100" in only
    kept = said(replace(found, tolerance=replace(found.tolerance, **{zero: 0.5})), none, CANNOT_TELL).settle
    assert only not in kept


def test_where_the_boxes_alone_stand_in_the_way_the_answer_says_which_limit(plain: Answer) -> None:
    """One swarm: 4 of 100 variants, of which 10 are accepted, is 4 of 100 boxes, of which 5 are: cannot tell."""
    one = replace(
        best_of(plain),
        samples=1024,
        harm_of_100=Span(3.1, 4.3, 5.4),
        boxes_harmed_expected=Span(0.031, 0.043, 0.054),
        standing="open",
    )
    told = said(replace(plain, settle=()), one, CANNOT_TELL)
    assert "only the 5 of 100 boxes stands in the way: up to 5.4 of 100" in told.settle[0]
    wide = said(replace(plain, settle=()), replace(one, harm_of_100=Span(8.0, 10.0, 12.0)), CANNOT_TELL)
    assert not wide.settle


def test_floors_shut_are_told_where_they_would_do_more_harm_than_is_accepted(plain: Answer) -> None:
    """The file says nothing of the floors, they count as clean, and nobody has looked: the accident of a cool day."""
    caution = "Look at every floor mesh before the start"
    best = best_of(plain)
    for shut, told in ((Span(59.0, 66.0, 72.0), True), (Span(5.0, 9.0, 14.0), False)):
        found = said(replace(plain, gummed=replace(best, harm_of_100=shut)), best)
        assert found.cautions[0].startswith(caution) is told
    assert "harm in 66 of 100 variants (59 to 72)" in " ".join(
        said(replace(plain, gummed=replace(best, harm_of_100=Span(59.0, 66.0, 72.0))), best).cautions
    )


def test_one_headroom_is_no_span(plain: Answer) -> None:
    """There stood: 20 degrees to 20 degrees or more in 90 of 100 variants."""
    one = replace(
        best_of(plain), headroom_k=Band(19.8, 20.0, 20.0), headroom_exact=True, headroom_side="either"
    )
    found = said(plain, one)
    assert "it may get 20 degrees or more warmer or colder" in found.reasons[0]
    assert " to " not in found.reasons[0]
    assert table(found, catalogue())[0]["headroom"] == "20 or more"


def test_where_the_sun_does_not_set_boxes_are_shut_when_lifted() -> None:
    """Inside the polar circle in June they were shut at half past seven, after sunset."""
    planned = tiny(departures=1, closing=Closing("after_sunset", fixed=True))
    ends = {end: replace(getattr(planned, end), lat_deg=78.0) for end in ("origin", "destination")}
    north = replace(planned, origin=ends["origin"], destination=ends["destination"])
    found = answered(north, counts=(8,), otherwise=False)
    assert "(when lifted)" in " ".join(found.reasons)
    assert "after sunset" not in " ".join(found.reasons)


def test_another_clock_at_the_destination_is_said(plain: Answer) -> None:
    """Shut at 22:00, open again by 23:15, 2 h 15 min later: over a border into another zone."""
    trip = plain.trip
    assert trip is not None
    here = replace(trip.origin, zone="Europe/Madrid")
    there = replace(trip.destination, zone="Europe/Lisbon")
    abroad = replace(plain, trip=replace(trip, origin=here, destination=there))
    assert " ".join(said(abroad, best_of(abroad)).reasons).count("by the clock there") == 2
    assert "by the clock there" not in " ".join(plain.reasons)


@pytest.mark.parametrize(
    ("side", "words"),
    [
        ("warmer", "9 degrees warmer outside"),
        ("colder", "9 degrees colder outside"),
        ("either", "warmer or colder"),
    ],
)
def test_which_way_headroom_is_used_up_is_said(plain: Answer, side: str, words: str) -> None:
    """Found in use: of a box that heat threatens it was said that it may get so much warmer or colder."""
    one = replace(best_of(plain), headroom_k=Band(3.0, 9.0, 12.0), headroom_side=side)
    assert words in said(plain, one).reasons[0]


def test_the_side_of_headroom_is_that_of_nearly_all_who_have_least() -> None:
    """Of those beyond the shifts that were tried nobody knows which side is nearer."""
    spare = np.array([1.0, 2.0, 3.0, 4.0, 9.9, 10.0, 10.0])
    cold = np.array([True, True, True, True, False, False, False])
    assert headroom_side(spare, cold, exact=False) == "colder"
    assert headroom_side(spare, ~cold, exact=False) == "warmer"
    assert headroom_side(spare, np.array([True, False] * 3 + [True]), exact=False) == "either"
    assert headroom_side(np.full(7, 10.0), cold, exact=False) == ""
    assert headroom_side(np.array([1.0, 2.0, *[10.0] * 5]), cold, exact=False) == "either"
    assert headroom_side(np.array([1.0, 2.0, 3.0, 4.0, 11.0, 12.0, 13.0]), cold, exact=True) == "colder"


def test_a_group_with_the_figures_of_the_whole_load_is_named_without_them(plain: Answer) -> None:
    """The first sentence of a long trip had three hundred letters, every figure twice."""
    best = best_of(plain)
    span = Span(10.0, 20.0, 30.0)
    none = replace(
        best.groups[0],
        label="other",
        harm_of_100=dict.fromkeys(best.groups[0].harm_of_100, Span(0.0, 0.0, 1.0)),
    )
    worst = replace(best.groups[0], label="worst", harm_of_100=best.groups[0].harm_of_100 | {"any": span})
    one = replace(best, harm_of_100=span, groups=(worst, none), by_group=best.by_group * 2)
    text = Words(plain, catalogue()).harm(one)
    assert text.count("20") == 1
    assert "worst" in text
    less = replace(worst, harm_of_100=worst.harm_of_100 | {"any": Span(8.0, 18.0, 28.0)})
    assert "18 (8 to 28)" in Words(plain, catalogue()).harm(replace(one, groups=(less, none)))


def test_rows_of_one_place_and_set_up_tell_no_start_twice(plain: Answer) -> None:
    """Two windows of alike departures may overlap: the later row tells what the first one left."""
    best = next(one for one in plain.candidates if one.setup == "as_declared")
    hours = [best.leave_s + 3600.0 * d for d in range(5)]

    def at(departure: int, first: int, last: int) -> Candidate:
        key = replace(best.key, departure=departure)
        return replace(
            best, key=key, leave_s=hours[departure], leave_from_s=hours[first], leave_to_s=hours[last]
        )

    found = replace(plain, candidates=(at(1, 0, 2), at(3, 2, 4)), departures_s=tuple(hours), best=at(1, 0, 2))
    leaves = [row["leave"] for row in table(found, catalogue())]
    assert "01:00" in leaves[0]
    assert "02:00" in leaves[1]
    assert "01:00" not in leaves[1]


def test_what_counts_every_way_and_what_the_likeliest_alone_is_said(plain: Answer) -> None:
    """Found in reading: harm went every way a box may go, minutes of standing one."""
    assert plain.trip is not None
    lie = Stage("doorstep", (1, 1), Moment("lasting", (600.0, 3600.0, 7200.0)), holder="receiver")
    doubtful = replace(plain.trip, groups=(replace(plain.trip.groups[0], stages=(lie,)),))
    known = Words(plain, catalogue()).how_sure(plain.best)
    assert not any("Nobody knows which way" in text for text in known)
    told = Words(replace(plain, trip=doubtful), catalogue()).how_sure(plain.best)
    assert any("Nobody knows which way" in text for text in told)


def test_a_caution_of_one_place_among_several_names_it(plain: Answer) -> None:
    """It lives on moving air: which place does?"""
    row = catalogue().loading_places["open_trailer"]
    one, other = (
        replace(row, title="Bed", cautions=("Both.", "It blows.")),
        replace(row, title="Boot", cautions=("Both.",)),
    )
    assert list(Words(plain, catalogue())._of_places([one, other])) == ["Both.", "Bed: it blows."]


# -- to be read aloud ----------------------------------------------------------------------------------


def test_the_sentence_tells_what_decides_and_the_lines_below_the_rest(plain: Answer) -> None:
    """Found in use: a first sentence of 97 words, three intervals in it, and what the user accepts.

    In few words of an answer that is sure: share and group. Where the ends of the interval are what is open, with them.
    """
    best = best_of(plain)
    groups = (
        best.groups[0],
        replace(best.groups[0], label="other", harm_of_100={"any": Span(1.0, 2.0, 3.0)}),
    )
    own = dict.fromkeys(groups[0].harm_of_100) | {"any": Span(2.0, 3.0, 5.0)}
    one = replace(
        best, harm_of_100=Span(3.0, 4.0, 6.0), groups=(replace(groups[0], harm_of_100=own), groups[1]),
        boxes_harmed_expected=Span(0.0, 0.0, 0.0), setup="roof_screen", changes=1, standing="within",
    )  # fmt: skip
    loaded = replace(
        best,
        key=replace(best.key, setups=(7,)),
        harm_of_100=Span(20.0, 25.0, 30.0),
        standing="above",
        groups=(),
    )
    found = said(replace(plain, declared=loaded), one, GO_IF)
    assert "harm in 4 of 100 variants, most often to " in found.sentence
    assert found.sentence.endswith(" As loaded: 25 of 100.")
    assert "You accept" not in found.sentence
    told = " ".join(found.how_sure)
    assert "harm in 4 of 100 variants (3 to 6), most often to " in told
    assert "3 (2 to 5)" in told
    assert "brings harm in 25 of 100 variants (20 to 30)" in told
    assert "You accept harm in 10 of 100 variants and to 5 of 100 boxes." in told
    doubtful = said(replace(plain, declared=replace(loaded, standing="open")), one, GO_IF)
    assert doubtful.sentence.endswith(" As loaded: 25 of 100, perhaps too much.")
    open_ = said(plain, replace(one, harm_of_100=Span(7.0, 9.0, 11.0)), CANNOT_TELL).sentence
    assert "harm in 9 of 100 variants (7 to 11)" in open_
    assert "You accept harm in 10 of 100 variants and to 5 of 100 boxes." in open_


@pytest.mark.slow
@pytest.mark.parametrize("name", ["swarm-run", "nuc-pickup", "night-pollination"])
def test_the_sentence_of_a_demo_can_be_read_aloud(name: str) -> None:
    """So many words take a quarter of a minute; it was 97."""
    draft = tomllib.loads((resource_path("demo") / f"{name}.toml").read_text(encoding="utf-8"))
    found = resolve(draft, catalogue(), resource_path("demo"), now_s=0.0)
    assert found.road is not None
    assert found.weather.weather is not None
    given = found.trip, found.road, found.weather.weather
    told = worded(ask(*given, catalogue()).answer(finished=True), catalogue()).sentence
    assert len(told.split()) <= 47, told


@pytest.mark.parametrize(
    ("later_s", "kept"), [(60.0, "fresh"), (5.0 * HOUR_S, "5 h old"), (-HOUR_S, ""), (-365.0 * DAY_S, "")]
)
def test_a_forecast_of_a_clock_that_ran_ahead_is_neither_fresh_nor_of_an_age(
    plain: Answer, later_s: float, kept: str
) -> None:
    """A forecast dated tomorrow stood as fresh."""
    assert plain.weather is not None
    dated = replace(plain, weather=replace(plain.weather, kind="forecast", issued_s=NIGHT))
    told = " ".join(Words(dated, catalogue(), now_s=NIGHT + later_s)._weather())
    assert plain.weather.source in told
    assert (kept in told) if kept else ("fresh" not in told and " old" not in told)
