"""Parcels: working days, journeys, the order of days, decisions, and what makes a journey worse."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from planner.app.answer.records import Span, Tolerance
from planner.app.lane.calendar import Posting, holidays_of, posting, postings
from planner.app.lane.documents import lane_document
from planner.app.lane.journeys import drawn, road_of, timeline_of
from planner.app.lane.plan import LaneJudge, decided, lane_answer, rank
from planner.app.lane.records import LaneAnswer, Question, Way
from planner.app.lane.words import arrives, lane_words
from planner.app.lane.year import DAYS, WEEKS, LaneYear, lane_year, year_chart, year_svg, year_words
from planner.model.preparations import ALL, AS_DECLARED
from planner.store.lanerecords import CarrierWord, LaneStage
from planner.units import whole
from tests.app.lanes import catalogue, spring, spring_weather

# -- working days ------------------------------------------------------------------------------------


def test_a_parcel_posted_on_friday_comes_on_monday() -> None:
    at = posting(date(2027, 4, 23), spring().service, frozenset())
    assert (at.due, at.late, at.extra) == (date(2027, 4, 26), date(2027, 4, 27), 2)
    assert at.crosses


def test_holidays_add_nights() -> None:
    """Whit Monday of 2027 is 17 May; it is one where the receiver lives."""
    free = holidays_of(spring(), (2027,))
    assert date(2027, 5, 17) in free
    at = posting(date(2027, 5, 14), spring().service, free)
    assert at.due == date(2027, 5, 18)
    assert at.extra == 3


def test_a_holiday_in_the_week_lies_between_posting_and_a_delivery_a_day_late() -> None:
    """Posted on Monday for Tuesday; where Wednesday is free, a day late is Thursday, one night more."""
    free = frozenset({date(2027, 4, 21)})
    at = posting(date(2027, 4, 19), spring().service, free)
    assert (at.due, at.late, at.extra, at.late_extra) == (date(2027, 4, 20), date(2027, 4, 22), 0, 2)
    assert at.crosses
    assert not posting(date(2027, 4, 19), spring().service, frozenset()).crosses


def test_nobody_delivers_on_a_sunday_even_who_does_on_saturdays() -> None:
    saturday = replace(spring().service, saturday=True)
    at = posting(date(2027, 4, 23), saturday, frozenset())
    assert (at.due, at.late) == (date(2027, 4, 24), date(2027, 4, 26))


def test_nobody_posts_on_a_holiday() -> None:
    week = replace(spring(), monday=date(2027, 5, 17))
    days = postings(week, holidays_of(week, (2027,)))
    assert [at.day.weekday() for at in days] == [1, 2, 3]


def check_before_holidays(seed: int) -> None:
    """Whatever the figures, a day with free days before delivery is never first where another day has none."""
    rng = np.random.default_rng(seed)
    monday = date(2027, 1, 4) + timedelta(days=7 * int(rng.integers(50)))
    free = {monday + timedelta(days=int(d)) for d in rng.integers(0, 9, rng.integers(0, 4))}
    lane = replace(
        spring(), monday=monday, service=replace(spring().service, transit_days=int(rng.integers(1, 4)))
    )
    ways = []
    for at in postings(lane, free):
        harm = float(rng.uniform(0, 30))
        ways.append(Way(at, "as_declared", Span(harm, harm, harm), "open", 64))
    if not ways or all(way.posting.crosses for way in ways):
        return
    assert not min(ways, key=lambda way: rank(way.posting, way, AS_DECLARED)).posting.crosses


def test_posting_before_free_days_is_never_ranked_best() -> None:
    for seed in range(500):
        check_before_holidays(seed)


# -- journeys ----------------------------------------------------------------------------------------


def test_half_of_the_journeys_are_longer_than_usual_in_each_stage() -> None:
    lane = spring()
    journeys = drawn(lane, 512, np.random.default_rng(1))
    for number, stage in enumerate(lane.stages):
        low, usual, high = stage.lasts_s
        lasts = journeys.lasts_s[:, number]
        assert ((lasts >= low) & (lasts <= high)).all()
        assert abs((lasts > usual).mean() - 0.5) < 0.02
    assert abs(journeys.late.mean() - 0.08) < 0.01
    depot = [stage.kind for stage in lane.stages].index("depot")
    assert abs((journeys.place[:, depot] == 0).mean() - 0.7) < 0.02


def test_the_stages_of_a_journey_follow_each_other_and_late_ones_last_a_day_longer() -> None:
    lane = spring()
    journeys = drawn(lane, 64, np.random.default_rng(1))
    at, post = posting(date(2027, 4, 19), lane.service, frozenset()), np.full(64, 1.8e9)
    timeline = timeline_of(lane, road_of(lane), journeys, at, post)
    late = timeline_of(lane, road_of(lane), journeys.all_late(), at, post)
    assert timeline.stage_s is not None
    assert (np.diff(timeline.stage_s[:, 0], axis=1) > 0).all()
    assert (timeline.opened_s[:, 0] > timeline.stage_s[:, 0, -1]).all()
    longer = (late.opened_s - timeline.opened_s)[~journeys.late, 0]
    assert longer == pytest.approx(np.full(longer.size, 86_400.0), abs=60.0)


# -- decisions ---------------------------------------------------------------------------------------

GOOD, OPEN, BAD = Span(0.0, 0.5, 1.5), Span(3.0, 5.0, 7.0), Span(20.0, 25.0, 30.0)
AT = Posting(date(2027, 4, 19), date(2027, 4, 20), date(2027, 4, 21), 0, 1)


def way(harm: Span, standing: str, setup: str = "roof_screen") -> Way:
    return Way(AT, setup, harm, standing, 400)  # type: ignore[arg-type]


def test_the_first_line_that_holds_decides() -> None:
    tolerance = Tolerance()
    good, bad = way(GOOD, "within"), way(BAD, "above")
    apart = [Question(2, "lane_hall", Span(30.0, 40.0, 50.0), Span(0.0, 1.0, 3.0))]
    assert decided(good, True, True, (), tolerance) == "go_if"
    assert decided(way(GOOD, "within", "as_declared"), True, True, (), tolerance) == "go"
    assert decided(good, True, False, (), tolerance) == "cannot_tell"
    assert decided(good, False, True, (), tolerance) == "do_not_go"
    assert decided(way(OPEN, "open"), True, True, (), tolerance) == "cannot_tell"
    assert decided(bad, True, True, (), tolerance) == "do_not_go"
    assert decided(bad, True, True, apart, tolerance) == "cannot_tell"


# -- the whole answer, in few samples ----------------------------------------------------------------


@pytest.fixture(scope="module")
def answer() -> LaneAnswer:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("planner.app.lane.plan.FIRST_SAMPLES", 8)
        patch.setattr("planner.app.lane.plan.LATE_SAMPLES", 16)
        patch.setattr("planner.app.lane.plan.MOST_SAMPLES", 64)
        service = replace(spring().service, weekdays=(0, 3))
        lane = replace(spring(), service=service, setups=("as_declared", "roof_screen"))
        return lane_answer(lane, spring_weather(), catalogue(), samples=32)


def test_the_answer_names_a_day_without_free_days_between(answer: LaneAnswer) -> None:
    assert answer.best is not None
    assert answer.best.posting.day == date(2027, 4, 19)
    assert {w.posting.day for w in answer.ways} == {date(2027, 4, 19), date(2027, 4, 22)}
    assert answer.late_harm is not None
    low, usual, high = answer.hours
    assert 12.0 < low <= usual <= high < 72.0


def test_words_and_document_tell_the_same(answer: LaneAnswer) -> None:
    titles = {name: place.title for name, place in catalogue().loading_places.items()}
    sentence, sections = lane_words(answer, titles)
    document = lane_document(answer, titles)
    assert document["sentence"] == sentence
    assert document["best"] is not None
    assert f"{whole(document['best']['harm_of_100']['value'])} of 100 variants" in sentence, (
        "as a plan says it"
    )
    assert bool(document["label"]) == (answer.decision in ("go", "go_if"))
    assert sections


def test_stages_that_deliver_at_night_are_remarked_on(answer: LaneAnswer) -> None:
    """Stages of a few hours are over in the evening of the day of posting, when no carrier delivers."""
    titles = {name: place.title for name, place in catalogue().loading_places.items()}

    def said(stages: tuple[LaneStage, ...]) -> str:
        changed = replace(answer, lane=replace(answer.lane, stages=stages))
        return " ".join(line for _, lines in lane_words(changed, titles)[1] for line in lines)

    stages = answer.lane.stages
    assert "a night in a depot may be missing" not in said(stages)
    short = tuple(replace(stage, lasts_s=(1200.0, 3600.0, 5400.0)) for stage in stages)
    arrived = arrives(replace(answer, lane=replace(answer.lane, stages=short)))
    assert answer.best is not None
    assert arrived is not None
    assert arrived.date() == answer.best.posting.day, "posted at 16:00, five hours on the way"
    assert "at 21:00, and is judged so" in said(short)
    waiting = tuple(replace(s, lasts_s=(0.0, 9e4, 9e4)) if s.kind == "doorstep" else s for s in stages)
    assert "a night in a depot may be missing" not in said(waiting), "it was delivered by day and waits"


def test_without_the_carriers_word_no_label_is_printed(answer: LaneAnswer) -> None:
    alone = replace(
        answer, ticked=False, decision="cannot_tell", lane=replace(answer.lane, carrier=CarrierWord())
    )
    titles = {name: place.title for name, place in catalogue().loading_places.items()}
    sentence, _ = lane_words(alone, titles)
    assert "Ask the carrier first" in sentence
    assert lane_document(alone, titles)["label"] == []


# -- what never helps --------------------------------------------------------------------------------


def check_worse(samples: int) -> None:
    """Hotter air, a more blocked mesh: in no journey with harm before does harm go away; a day late harms no fewer.

    In the same samples; heat is what harms this parcel, so that cold cannot be mended by warmth.
    """
    lane = replace(
        spring(),
        group=replace(spring().group, frames_of_bees=5.5, sealed_brood_frames=2.0),
        setups=("as_declared",),
    )
    warm = replace(spring_weather(), air_c=spring_weather().air_c + 8.0, dew_c=spring_weather().dew_c + 4.0)
    hot = replace(warm, air_c=warm.air_c + 3.0)
    at = posting(date(2027, 4, 19), lane.service, frozenset())
    rows = slice(0, samples)
    plain = LaneJudge(lane, warm, catalogue(), 1, samples)
    before = plain.outcome(at, [0], rows).harmed[:, 0]
    late = plain.outcome(at, [0], rows, plain.journeys.all_late()).harmed[:, 0]
    hotter = LaneJudge(lane, hot, catalogue(), 1, samples).outcome(at, [0], rows).harmed[:, 0]
    blocked = replace(lane, group=replace(lane.group, floor_blocked_share=0.6))
    shut = LaneJudge(blocked, warm, catalogue(), 1, samples).outcome(at, [0], rows).harmed[:, 0]
    assert hotter.sum() >= before.sum()
    assert late.sum() >= before.sum()
    assert shut.sum() >= before.sum()
    for worse in (hotter, shut):
        assert (before & ~worse).sum() == 0
    assert (before & ~late).sum() <= 0.01 * samples  # it is delivered into the weather of another day


def test_nothing_that_is_worse_makes_a_journey_better() -> None:
    check_worse(12)


@pytest.mark.hour
@pytest.mark.slow
@pytest.mark.timeout(3600)
def test_nothing_that_is_worse_makes_any_of_1000_journeys_better() -> None:
    check_worse(334)


def test_the_set_ups_of_a_lane_are_known() -> None:
    assert {setup.name for setup in ALL} >= set(spring().setups)


# -- a year ------------------------------------------------------------------------------------------


def test_a_year_keeps_finished_weeks(tmp_path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.app.lane.year.WEEKS", 2)
    asked = []

    def week(common: object, monday: date) -> dict[str, np.ndarray]:
        asked.append(monday)
        return {"harm": np.array([0.0, 0.1, 0.5, np.nan, np.nan, np.nan])}

    monkeypatch.setattr("planner.app.lane.year._week", week)
    first = lane_year(spring(), spring_weather(), catalogue(), folder=tmp_path)
    again = lane_year(spring(), spring_weather(), catalogue(), folder=tmp_path)
    assert (first.reused, again.reused, len(asked)) == (0, 2, 2)
    assert np.array_equal(first.harm, again.harm, equal_nan=True)


def test_the_chart_of_a_year_shows_every_day_in_its_class() -> None:
    harm = np.full((WEEKS, DAYS), 0.0)
    harm[3], harm[4] = 0.4, np.nan
    year = LaneYear(spring(), "as_declared", Tolerance(), harm, 32, "made", 0)
    chart = year_chart(year)
    assert len(chart.marks) == WEEKS * DAYS
    assert len({mark.fill for mark in chart.marks}) == 3  # type: ignore[union-attr]
    assert year.good().size == WEEKS - 2
    assert "50 of 52 weeks" in year_words(year)
    assert year_svg(year).startswith("<svg")
