"""The facts an answer must hold, by plans made by hand: which hours to avoid, what is next best, when to warn."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from planner.app.common.wording import runs as runs_of
from planner.app.plan.notes import notes_of
from planner.app.plan.plan import _phases, shut_at_night
from planner.app.plan.results import CAUTION, CLEAR, HARM, LIMITS, UNKNOWN, Choice, Headroom, Plan
from planner.app.plan.room import room_of
from planner.app.plan.words import answer, choice_text
from planner.model.closing import closing_times
from planner.model.preparations import AS_DECLARED, ROOF_SCREEN
from planner.model.records import Closing, Trip
from planner.model.timeline import build_timeline
from planner.units import US
from tests.app.handmade import made_plan
from tests.model.scenarios import HOUR_S, NUC, SPRING, catalogue, halt, replace, road, trip

LEAVE_S = SPRING + 34.0 * HOUR_S  # Tuesday 30 March, 12:00 in Rome
ONLY = Choice(0, 0, 0)


def plan_of(
    departures: int = 1,
    step_h: float = 1.0,
    places: Any = "open_trailer",
    setups: Any = (AS_DECLARED,),
    **more: Any,
) -> Plan:
    last_s = LEAVE_S + (departures - 1) * step_h * HOUR_S
    asked = trip(more.pop("groups", NUC), places, leave_s=LEAVE_S, last_s=last_s, step_s=step_h * HOUR_S)
    return made_plan(
        replace(asked, **more.pop("of_trip", {})), more.pop("way", road(1.5)), setups=setups, **more
    )


def by_agitation(calm: float, typical: float, agitated: float) -> np.ndarray:
    return np.array([calm, typical, agitated])[:, None]


def said(found: Plan, **more: Any) -> str:
    """Everything that is said, in one text."""
    told = answer(found, catalogue(), **more)
    parts = (told.headline, told.next_best, *told.reasons, *told.how_sure, *told.cautions)
    return "\n".join(parts)


# -- hours to avoid --------------------------------------------------------------------------------


def harmful(*departures: int, of: int, step_h: float = 1.0, agitation: int = 1) -> str:
    verdict = np.zeros((of, 1, 1, 3, 1, 5))
    verdict[list(departures), ..., agitation, :, 2] = HARM
    return answer(plan_of(of, step_h, verdict=verdict), catalogue()).avoid


@pytest.mark.parametrize(
    ("departures", "count", "step_h", "avoid"),
    [
        ((), 4, 1.0, ""),
        ((0, 1, 2, 3), 4, 1.0, ""),
        ((1,), 4, 1.0, "13:00"),
        ((1, 2), 4, 1.0, "13:00-14:00"),
        ((0, 2, 3), 6, 1.0, "12:00 and 14:00-15:00"),
        ((0, 2, 3, 5, 6, 7), 9, 1.0, "14:00-15:00 and 17:00-19:00"),
        ((3,), 8, 6.0, "Wednesday 06:00"),
        ((2, 3), 8, 6.0, "Wednesday 00:00-06:00"),
        ((1, 2), 8, 6.0, "Tuesday 18:00 to Wednesday 00:00"),
    ],
)
def test_the_longest_two_runs_of_harmful_hours_are_to_be_avoided(
    departures: tuple[int, ...], count: int, step_h: float, avoid: str
) -> None:
    assert harmful(*departures, of=count, step_h=step_h) == avoid


def test_hours_harmful_with_agitated_bees_only_are_not_on_that_list() -> None:
    assert harmful(1, of=4, agitation=2) == ""


@pytest.mark.parametrize(
    ("flags", "runs"),
    [("", []), ("0", []), ("1", [(0, 0)]), ("0110", [(1, 2)]), ("1011", [(0, 0), (2, 3)]), ("111", [(0, 2)])],
)
def test_runs_go_from_their_first_to_their_last(flags: str, runs: list[tuple[int, int]]) -> None:
    assert runs_of(np.array([flag == "1" for flag in flags], dtype=bool)) == runs


# -- what else would do ----------------------------------------------------------------------------


def test_next_best_is_another_hour_or_else_another_place_or_set_up() -> None:
    hours = plan_of(2, places=("open_trailer", "pickup_bed"))
    assert "13:00" in answer(hours, catalogue()).next_best
    places = plan_of(places=("open_trailer", "pickup_bed"), setups=(AS_DECLARED, ROOF_SCREEN))
    title = places.loading_place_titles[1]
    assert title[1:] in answer(places, catalogue()).next_best
    setups = plan_of(setups=(AS_DECLARED, ROOF_SCREEN))
    assert ROOF_SCREEN.title in answer(setups, catalogue()).next_best
    assert answer(plan_of(), catalogue()).next_best == ""


def test_what_is_unknown_is_not_next_best() -> None:
    verdict = np.zeros((2, 1, 1, 3, 1, 5))
    verdict[1] = UNKNOWN
    assert answer(plan_of(2, verdict=verdict), catalogue()).next_best == ""


def test_next_best_says_how_it_ends() -> None:
    verdict = np.zeros((2, 1, 1, 3, 1, 5))
    verdict[1, ..., 1, :, 0] = CAUTION
    peaks = np.array([34.0, 36.5]).reshape(2, 1, 1, 1, 1)
    found = answer(plan_of(2, verdict=verdict, peak_core_c=peaks), catalogue())
    assert "36.5" in found.next_best
    assert "caution" in found.next_best


# -- headline --------------------------------------------------------------------------------------


def test_the_hottest_of_several_groups_is_named() -> None:
    groups = (NUC, replace(NUC, label="upper row"), replace(NUC, label="lower row"))
    peaks = np.array([34.0, 36.0, np.nan])
    assert "upper row" in answer(plan_of(groups=groups, peak_core_c=peaks), catalogue()).headline
    assert "nuc" not in answer(plan_of(), catalogue()).headline


def test_peaks_are_typical_first_then_calm_to_agitated() -> None:
    found = answer(plan_of(peak_core_c=by_agitation(33.0, 35.5, 40.0)), catalogue())
    assert "35.5 °C (33.0-40.0)" in found.headline
    assert choice_text(plan_of(), ONLY) in found.headline


def test_cautions_of_typical_bees_are_in_the_headline() -> None:
    verdict = np.zeros((3, 1, 5))
    verdict[1, 0, 1], verdict[2, 0, 0] = CAUTION, CAUTION
    headline = answer(plan_of(verdict=verdict), catalogue()).headline
    assert "queen" in headline
    assert "brood" not in headline
    assert answer(plan_of(verdict=verdict), catalogue()).level == CAUTION


def test_what_happens_to_any_group_is_told() -> None:
    """Caution for the first group's queen and the second's comb."""
    verdict = np.zeros((3, 2, 5))
    verdict[1, 0, 1], verdict[1, 1, 3] = CAUTION, CAUTION
    groups = (NUC, replace(NUC, label="more"))
    headline = answer(plan_of(groups=groups, verdict=verdict), catalogue()).headline
    assert "queen" in headline
    assert "comb" in headline


# -- reasons ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("hotter_k", "colder_k", "exact", "said"),
    [
        (3.2, 11.0, True, "it may get 3.2 degrees hotter or 11.0 degrees colder outside"),
        (3.2, 20.0, True, "3.2 degrees hotter or 20.0 degrees or more colder"),
        (3.2, 10.0, False, "about 3.2 degrees hotter or 10.0 degrees or more colder"),
        (-2.5, 12.0, True, "have to be 2.5 degrees cooler outside"),
        (12.0, -0.6, True, "have to be 0.6 degrees warmer outside"),
        (-2.5, 2.0, True, "However warm or cool it were outside, there would be harm"),
        (-20.0, 20.0, True, "However warm or cool it were outside, there would be harm"),
        (np.nan, np.nan, True, "no headroom to tell"),
    ],
)
def test_headroom_is_told_with_its_sign_in_words(
    hotter_k: float, colder_k: float, exact: bool, said: str
) -> None:
    """How much hotter or colder it may get; what would end a harm; that nothing would; that the air is held."""
    found = plan_of()
    found = replace(found, tried={found.ranking[0]: Headroom(hotter_k, colder_k, exact)})
    first = answer(found, catalogue()).reasons[0]
    assert said in first
    assert "-" not in first


def test_what_no_air_would_end_is_named() -> None:
    verdict = np.zeros((1, 1, 1, 3, 1, 5))
    verdict[..., 1, :, 3] = HARM
    found = plan_of(verdict=verdict)
    found = replace(found, tried={found.ranking[0]: Headroom(-20.0, 20.0, exact=True)})
    assert found.headroom_k(found.ranking[0]) == -20.0
    assert answer(found, catalogue()).reasons[0].endswith("there would be harm: comb collapses.")


def test_the_bracket_is_that_of_the_box_whose_peak_is_told_and_in_order() -> None:
    """The first box is hottest with typical bees; agitated ones died early and stayed cooler. The second only warms."""
    peaks = np.array([[37.0, 30.0], [53.4, 31.0], [50.8, 60.0]]).reshape(1, 1, 1, 3, 2)
    found = plan_of(groups=(NUC, replace(NUC, label="more")), peak_core_c=peaks)
    assert found.peak_c(found.ranking[0]) == (37.0, 53.4, 53.4)
    assert "53.4 °C (37.0-53.4)" in answer(found, catalogue()).headline


def test_the_worst_place_is_named_unless_it_is_the_chosen_one() -> None:
    peaks = np.array([34.0, 38.5]).reshape(1, 2, 1, 1, 1)
    found = plan_of(places=("open_trailer", "van_shut_dark"), peak_core_c=peaks)
    assert any("38.5" in reason for reason in answer(found, catalogue()).reasons)
    other = answer(found, catalogue(), choice=Choice(0, 1, 0))
    assert not any("34.0" in reason for reason in other.reasons)


def test_what_the_set_up_gains_is_told() -> None:
    peaks = np.array([39.5, 34.0]).reshape(1, 1, 2, 1, 1)
    found = plan_of(setups=(AS_DECLARED, ROOF_SCREEN), peak_core_c=peaks)
    assert "39.5" in "".join(answer(found, catalogue(), choice=Choice(0, 0, 1)).reasons)
    assert "39.5" not in "".join(answer(found, catalogue(), choice=ONLY).reasons)


def test_closing_arrival_and_opening_are_told_on_their_own_clocks() -> None:
    """Shut at 11:30, there at 13:30, open half an hour later: two hours and a half."""
    reasons = "".join(answer(plan_of(), catalogue()).reasons)
    assert all(text in reasons for text in ("Tuesday 11:30", "Tuesday 13:30", "2 h 30 min"))
    by_day = replace(plan_of(), closed_by_day=np.array([True]))
    assert "foragers" in "".join(answer(by_day, catalogue()).reasons)
    assert "foragers" not in reasons


@pytest.mark.parametrize(("short_ml", "told"), [(10.0, False), (10.6, True)])
def test_water_that_lacks_is_told_beyond_ten_millilitres(short_ml: float, told: bool) -> None:
    groups = (NUC, replace(NUC, label="more"))
    found = plan_of(
        groups=groups, water_ml=np.array([55.0, np.nan]), water_short_ml=np.array([short_ml, 0.0])
    )
    text = said(found)
    assert "55 ml" in text
    assert ("11 ml" in text) is told


@pytest.mark.parametrize(
    ("share", "words"), [(0.029, None), (0.031, "disturbs"), (0.079, "disturbs"), (0.09, "harms")]
)
def test_stale_air_is_told_beyond_the_alert(share: float, words: str | None) -> None:
    p = catalogue().parameters.rows
    assert (p["co2_alert_share"].value, p["co2_danger_share"].value) == (0.03, 0.08)
    groups = (NUC, replace(NUC, label="more"))
    text = said(plan_of(groups=groups, peak_co2_share=np.array([0.001, share])))
    assert (f"{share:.1%}" in text) is (words is not None)
    if words:
        assert words in text


def test_time_beyond_a_limit_is_that_of_the_worst_group() -> None:
    over = np.zeros((2, len(LIMITS)))
    over[:, LIMITS.index("core_37")] = [600.0, 1500.0]
    over[1, LIMITS.index("comb_danger")] = 300.0
    text = said(plan_of(groups=(NUC, replace(NUC, label="more")), over_s=over))
    assert "25 min" in text
    assert "10 min" not in text
    assert "5 min" in text
    assert "37" in text


# -- how sure, cautions ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typical", "agitated", "sentences"),
    [
        (CLEAR, CLEAR, 1),
        (CLEAR, CAUTION, 0),
        (CLEAR, HARM, 1),
        (CAUTION, HARM, 1),
        (HARM, HARM, 0),
        (CLEAR, UNKNOWN, 0),
    ],
)
def test_what_agitated_bees_would_make_of_it(typical: int, agitated: int, sentences: int) -> None:
    """Said when they come to harm and typical ones do not, and when even they stay clear."""
    verdict = np.zeros((3, 1, 5))
    verdict[1, 0, 0], verdict[2, 0, 0] = typical, agitated
    lines = answer(plan_of(verdict=verdict), catalogue()).how_sure[3:-1]
    assert len(lines) == sentences
    if sentences:
        assert ("harm" in lines[0]) is (agitated == HARM)


@pytest.mark.parametrize(("age_h", "text"), [(3.0, "fresh"), (3.1, "3 h 06 min old"), (30.0, "30 h old")])
def test_a_forecast_older_than_three_hours_shows_its_age(age_h: float, text: str) -> None:
    found = plan_of()
    dated = replace(found, weather=replace(found.weather, issued_s=0.0))
    assert text in said(dated, now_s=age_h * HOUR_S)
    assert "fresh" not in said(dated)
    assert "fresh" not in said(found, now_s=0.0)


@pytest.mark.parametrize(("hours", "warned"), [(4.0, False), (4.1, True)])
def test_four_hours_without_a_halt_are_long(hours: float, warned: bool) -> None:
    assert ("4 h 06 min" in said(plan_of(way=road(hours)))) is warned
    assert (
        "4 h 06 min" in said(plan_of(way=road(hours / 2.0), of_trip={"drive_time_factor": 2.0}))
    ) is warned


def test_the_longest_leg_counts_not_the_whole() -> None:
    found = plan_of(way=road(6.0, waypoints=3), of_trip={"stops": (halt(30),)})
    assert "3 h" not in "".join(answer(found, catalogue()).cautions[:1])


def test_cautions_of_a_pinned_groups_place_are_given_once() -> None:
    place = next(p for p in catalogue().loading_places.values() if p.cautions)
    pinned = replace(NUC, loading_place=place.name)
    cautions = answer(plan_of(groups=(NUC, pinned, pinned)), catalogue()).cautions
    for text in place.cautions:
        assert cautions.count(text) == 1


def test_without_weather_there_is_one_reason() -> None:
    found = answer(plan_of(verdict=UNKNOWN), catalogue())
    assert len(found.reasons) == 1
    assert found.level == UNKNOWN


def test_the_readers_units_reach_every_figure() -> None:
    found = plan_of(headroom_k=2.0, peak_core_c=35.0)
    text = said(found, units=US)
    assert "95.0 °F" in text
    assert "3.6 °F" in text
    assert " K" not in text


# -- notes, night, phases --------------------------------------------------------------------------


def test_notes_say_how_much_is_unknown_and_that_a_road_is_guessed() -> None:
    peaks = np.full((4, 1, 1, 1, 1), 35.0)
    peaks[0] = np.nan
    found = plan_of(4, peak_core_c=peaks)
    guessed = replace(found.road, estimated=True, time_error_share=0.3)
    sky = replace(found.weather, notes=("from a file",))
    found_room = [room_of(found.trip, catalogue(), name) for name in found.loading_places]
    remarks = found.ranking, found_room, {}, catalogue()
    notes = notes_of(found.trip, sky, guessed, found.outcomes, *remarks)
    assert notes[0] == "from a file"
    assert "30%" in notes[1]
    assert "25%" in notes[2]
    assert notes_of(found.trip, found.weather, found.road, plan_of().outcomes, *remarks) == ()


def test_night_is_while_the_sun_is_down_where_the_group_is_loaded() -> None:
    """29 March, 45 N: the sun sets about 17:55 UTC at the origin; over the hour before it the bees come home."""
    found = shut_at_night(trip(NUC, "open_trailer"), SPRING + np.array([[12.0], [17.4], [19.0]]) * HOUR_S)
    assert found[[0, 2]].tolist() == [[0.0], [1.0]]
    assert 0.3 < float(found[1, 0]) < 0.7
    far = replace(halt(10).site, lon_deg=98.0)  # six hours east
    asked = trip(
        (NUC, replace(NUC, load_waypoint=1)),
        "open_trailer",
        stops=[replace(halt(10), site=far, purpose="load")],
    )
    assert shut_at_night(asked, np.full((1, 2), SPRING + 14.0 * HOUR_S)).tolist() == [[0.0, 1.0]]


def phases_of(asked: Trip, waypoints: int = 2) -> list[tuple[str, str, float, float, float]]:
    """Kind, label, begin and end in hours after wheels turn, kilometre."""
    way, leave = road(3.0, waypoints=waypoints), np.array([LEAVE_S])
    timeline = build_timeline(asked, way, leave, closing_times(asked, way, leave))
    return [
        (p.kind, p.label, (p.start_s - LEAVE_S) / HOUR_S, (p.end_s - LEAVE_S) / HOUR_S, p.km)
        for p in _phases(asked, way, timeline)
    ]


def test_a_trip_is_waiting_loading_driving_and_settling() -> None:
    """Shut at ten by the clock, lifted at 11:30, gone at noon; a halt of half an hour after 120 of 240 km."""
    early = Closing("clock", clock_s=10.0 * HOUR_S)
    asked = trip(NUC, "open_trailer", leave_s=LEAVE_S, closing=early, stops=[halt(30)])
    assert phases_of(asked, 3) == [
        ("waiting", "Old Yard", -2.0, -0.5, 0.0),
        ("loading", "Old Yard", -0.5, 0.0, 0.0),
        ("driving", "Lay-by", 0.0, 1.5, 0.0),
        ("stop", "Lay-by", 1.5, 2.0, 120.0),
        ("driving", "New Yard", 2.0, 3.5, 120.0),
        ("settling", "New Yard", 3.5, 4.0, 240.0),
    ]


def test_phases_that_take_no_time_are_left_out() -> None:
    asked = trip(NUC, "open_trailer", leave_s=LEAVE_S, loading_s=0.0, open_after_s=0.0)
    assert [kind for kind, *_ in phases_of(asked)] == ["driving"]
