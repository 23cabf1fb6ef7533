"""What Apply writes into a draft plans to just what was promised: same samples, same closings, same harm."""

from __future__ import annotations

import copy
import tomllib
from typing import Any

import numpy as np
import pytest

from planner.app.advice.apply import DraftEdits, Edit, draft_edits
from planner.app.advice.changes import NOWHERE, Change, closings_of, possible
from planner.app.advice.helps import Bench
from planner.app.answer.ask import Asked, ask
from planner.app.answer.records import Answer, Candidate
from planner.app.answer.settled import ONLY, closings_elsewhere, settled_plan, settled_trip
from planner.app.plan.closings import settled
from planner.bundled import resource_path
from planner.model.records import Box, Closing, DepartureWindow
from planner.store.tripfile import resolve
from planner.ui.work.candidates import nearest
from tests.app.answered import asked as asked_about
from tests.app.answered import tiny
from tests.app.handmade import made_plan
from tests.model.scenarios import HOUR_S, NUC, SPRING, catalogue, halt, replace, road, trip

COUNTS = (8, 32)
PAIR = ("open_trailer", "cabin_windows_open")
Draft = dict[str, Any]


def demo(name: str, **window: object) -> Draft:
    draft = tomllib.loads((resource_path("demo") / f"{name}.toml").read_text(encoding="utf-8"))
    draft["window"] |= window
    return draft


def answer_to(draft: Draft) -> Asked:
    found = resolve(draft, catalogue(), resource_path("demo"), now_s=0.0)
    assert found.road is not None
    assert found.weather.weather is not None
    return ask(found.trip, found.road, found.weather.weather, catalogue(), counts=COUNTS, otherwise=False)


def applied(draft: Draft, edits: DraftEdits) -> Draft:
    """The draft with the edits, as the window makes them."""
    draft = copy.deepcopy(draft)
    for edit in edits.edits:
        here: Any = draft
        for part in edit.spot[:-1]:
            here = here.setdefault(part, {}) if isinstance(here, dict) else here[part]
        if edit.value is None:
            here.pop(edit.spot[-1], None)
        else:
            here[edit.spot[-1]] = copy.deepcopy(edit.value)
    return draft


def promises(draft: Draft, names: set[str] | None = None) -> list[tuple[str, float, float]]:
    """Of every change: its name, the harm that is promised of 100, and that of the trip planned anew."""
    asked = answer_to(draft)
    said = asked.answer(finished=True)
    assert said.best is not None
    plan = settled_plan(said, said.best, catalogue())
    elsewhere = closings_elsewhere(said, said.best)
    every = [
        c for c in possible(plan, ONLY, catalogue(), places=said.places) if names is None or c.name in names
    ]
    bench = Bench(
        plan, ONLY, catalogue(), every, np.random.default_rng(1), 32, drawn=asked.race.field,
        elsewhere=elsewhere,
    )  # fmt: skip
    out = []
    for change, trial in zip(every, bench.tried([(change,) for change in every]), strict=True):
        edits = draft_edits(
            plan, ONLY, (change,), catalogue(), said.trip,
            put_in=[one.name for one in said.breaks], elsewhere=elsewhere,
        )  # fmt: skip
        if edits is not None and trial.known:
            there = answer_to(applied(draft, edits)) if edits.edits else asked
            one = there.look(candidate_of(there.answer(finished=True), edits, said.best).key)
            assert one.harm_of_100 is not None
            out.append((change.name, round(100.0 * float(trial.harmed.mean()), 1), one.harm_of_100.value))
    return out


def candidate_of(found: Answer, edits: DraftEdits, before: Candidate) -> Candidate:
    """The one the window looks at then."""
    setups = {before.key.setups} if not edits.edits else {(0,) * len(before.key.setups)}
    return next(
        one
        for one in found.candidates
        if (one.leave_s, found.place_of(one)) == (edits.departure_s, edits.place) and one.key.setups in setups
    )


def test_an_hour_outside_the_window_keeps_its_promise() -> None:
    """A small witness of the next two: the window grows, and yet the same samples are met."""
    draft = demo("swarm-run", **{"from": "2027-06-11T15:00", "to": "2027-06-11T15:00"})
    draft["vehicle"]["places"] = ["open_trailer"]
    draft["load"] = draft["load"][:2]
    ((_, promised, planned),) = promises(draft, {"leave_+1h"})
    assert promised == planned > 0.0


@pytest.mark.slow
def test_hours_outside_the_window_and_changes_of_the_boxes_keep_their_promise() -> None:
    """The window grows and its step halves; nobody else's samples are met for it, and the boxes are shut alike."""
    draft = demo("swarm-run", **{"from": "2027-06-11T13:00", "to": "2027-06-11T15:00", "step_minutes": 120})
    found = promises(draft, {"leave_+4h", "leave_-1h", "leave_+1h", "mist_50"})
    assert [name for name, *_ in found] == ["mist_50", "leave_-1h", "leave_+1h", "leave_+4h"]
    assert all(promised == planned for _, promised, planned in found), found
    assert len({promised for _, promised, _ in found}) > 1, "they would agree if nothing did anything"


@pytest.mark.slow
@pytest.mark.parametrize("name", ["swarm-run", "nuc-pickup", "night-pollination"])
def test_every_change_of_a_demo_keeps_its_promise(name: str) -> None:
    found = promises(demo(name, step_minutes=240))
    assert len(found) > 10
    assert all(promised == planned for _, promised, planned in found), found


# -- what is written ---------------------------------------------------------------------------------


def test_a_candidate_settled_by_rule_is_shut_at_the_very_instants_of_the_answer() -> None:
    """A rule and no instant, so that a departure at another hour is shut by it too; now is an instant."""
    planned = tiny((replace(NUC, label="a"), replace(NUC, label="b")), departures=3)
    asked = asked_about(planned, counts=(8,), otherwise=False, now_s=planned.window.first_s - 5.0 * HOUR_S)
    found = asked.answer(finished=True)
    for one in found.candidates:
        plan = settled_plan(found, one, catalogue())
        assert plan.closed_s[0] == min(choice.closing.at_s for choice in one.by_group)
        closings = [group.closing for group in settled_trip(found, one, catalogue()).groups]
        assert all(closing is not None and closing.fixed for closing in closings)
        assert [closing.rule for closing in closings if closing] == [
            {"now": "actual"}.get(choice.closing.rule, choice.closing.rule) for choice in one.by_group
        ]


def test_of_a_load_with_boxes_pinned_the_place_is_that_of_the_others() -> None:
    """Nothing was found where Apply looked: groups that ride apart were known as mixed, and by no place."""
    groups = (replace(NUC, label="pinned", loading_place="boot_dark"), replace(NUC, label="free"))
    planned = tiny(groups, PAIR, departures=2)
    found = asked_about(planned, counts=(8,), otherwise=False).answer(finished=True)
    assert found.best is not None
    assert {one.place for one in found.candidates} == {"mixed"}
    assert {found.place_of(one) for one in found.candidates} == set(planned.loading_places)
    there = {(leave, place) for leave in found.departures_s for place in planned.loading_places}
    known = closings_elsewhere(found, found.best)
    assert set(known) == there
    assert settled_trip(found, found.best, catalogue()).loading_places == (found.place_of(found.best),)
    first = next(one for one in found.candidates if one.setup == "as_declared")
    at_once = [replace(c, closing=replace(c.closing, rule="now", at_s=7.0)) for c in first.by_group]
    freed = replace(first, by_group=tuple(at_once), changes=1)
    asked_first = replace(found, candidates=(freed, *found.candidates))
    assert closings_elsewhere(asked_first, first)[first.leave_s, found.place_of(first)] == tuple(
        Closing(c.closing.rule, fixed=True) for c in first.by_group
    ), "closings that the user would have to change are not those of the load as it is"
    for leave_s, place in there:
        one = nearest(found, leave_s, place)
        assert one is not None
        assert (one.leave_s, one.by_group[0].place, one.by_group[1].place) == (leave_s, "boot_dark", place)


def test_a_load_that_rides_apart_does_not_tell_how_one_that_does_not_is_shut() -> None:
    planned = tiny((replace(NUC, label="a"), replace(NUC, label="b")), PAIR, departures=1)
    found = asked_about(planned, counts=(8,), otherwise=False).answer(finished=True)
    assert found.best is not None
    best = found.best
    here, other = best.place, next(name for name in PAIR if name != best.place)
    at_once = [replace(c, closing=replace(c.closing, rule="now", at_s=7.0)) for c in best.by_group]
    apart = replace(
        best,
        place="mixed",
        key=replace(best.key, arrangement=9),
        by_group=(at_once[0], replace(at_once[1], place=other)),
    )
    both = replace(found, candidates=(apart, *found.candidates))
    assert both.place_of(apart) == here
    usual, split = (closings_elsewhere(both, one)[best.leave_s, here] for one in (best, apart))
    assert [closing.rule for closing in split] == ["actual", "actual"]
    assert [closing.rule for closing in usual] == [c.closing.rule for c in best.by_group]


LEAVE_S = SPRING + 34.0 * HOUR_S
SCREENS = Change("screens", "vents", 0, "vents", boxes=lambda g, _: replace(g, side_vents_open=False))
SHUT = Closing("at_loading", fixed=True)


def edits_of(
    groups: tuple[Any, ...], change: Change, asked_groups: tuple[Any, ...] | None = None, **more: Any
):
    """Edits for a settled plan of groups, where the answer's trip has others."""
    plan = made_plan(trip(groups, "open_trailer", **more), road(3.0, waypoints=4, vertices=61))
    asked = replace(plan.trip, groups=asked_groups or plan.trip.groups)
    drafted = draft_edits(plan, ONLY, [change], catalogue(), asked, put_in=["Break 1"])
    return None if drafted is None else {edit.spot: edit.value for edit in drafted.edits}


STOPS = (replace(halt(45, "break"), site=replace(halt(45).site, name="Break 1")), halt(20))


def test_closings_are_pinned_to_what_was_tried_once_for_all_or_group_by_group() -> None:
    one = replace(NUC, closing=SHUT)
    late = replace(NUC, closing=Closing("actual", at_s=LEAVE_S - 3600.0, fixed=True))
    both = edits_of((one, one), SCREENS, (NUC, NUC), stops=STOPS)
    assert both is not None
    assert both.pop(("closing",)) == {"rule": "at_loading", "fixed": True}
    assert set(both) == {("load", 0, "side_vents_open"), ("load", 1, "side_vents_open")}
    apart = edits_of((one, late), SCREENS, (NUC, NUC), stops=STOPS)
    assert apart is not None
    assert apart[("load", 0, "closing")] == {"rule": "at_loading", "fixed": True}
    assert apart[("load", 1, "closing")] == {
        "rule": "actual",
        "at": "2027-03-30T11:00:00+02:00",
        "fixed": True,
    }


def test_parts_of_one_table_are_written_once_and_what_would_part_them_is_not() -> None:
    """Boxes with hours of their own are groups beside theirs, of the same table of the draft."""
    early, rest = (replace(NUC, table=0, count=n, label=f"{n}", closing=SHUT) for n in (1, 4))
    other = replace(NUC, table=1, closing=SHUT)
    found = edits_of((early, rest, other), SCREENS, stops=STOPS)
    assert found is not None
    assert set(found) == {("load", 0, "side_vents_open"), ("load", 1, "side_vents_open"), ("closing",)} - {
        ("closing",)
    }
    fewer = Change("half", "half", 1, "count", boxes=lambda g, _: replace(g, count=(g.count + 1) // 2))
    halved = edits_of((early, rest, other), fewer, stops=STOPS)
    assert halved == {("load", 0, "count"): 3}
    apart = replace(rest, closing=Closing("after_sunset", fixed=True))
    assert edits_of((early, apart, other), SCREENS, stops=STOPS) is None
    plan = made_plan(
        trip((early, rest, other), "open_trailer", boxes=(Box("A", 0),)), road(3.0, waypoints=2, vertices=61)
    )
    assert draft_edits(plan, ONLY, [fewer], catalogue(), plan.trip) is None, "which box goes is not known"


def test_stops_that_the_law_put_in_are_not_in_the_draft() -> None:
    shade = Change(
        "shade", "shade", 1, "stop shade",
        trip=lambda t, r: (replace(t, stops=(t.stops[0], replace(t.stops[1], shade=True))), r),
    )  # fmt: skip
    every = Change(
        "all", "all", 1, "stop shade",
        trip=lambda t, r: (replace(t, stops=tuple(replace(stop, shade=True) for stop in t.stops)), r),
    )  # fmt: skip
    group = replace(NUC, closing=SHUT)
    assert edits_of((group,), shade, stops=STOPS) == {("stops", 0, "shade"): True}
    assert edits_of((group,), every, stops=STOPS) is None


def test_without_an_answer_nothing_is_pinned() -> None:
    plan = made_plan(trip(NUC, "open_trailer"), road(3.0, waypoints=2, vertices=61))
    drafted = draft_edits(plan, ONLY, [SCREENS], catalogue(), elsewhere=NOWHERE)
    assert drafted is not None
    assert [edit.spot for edit in drafted.edits] == [("load", 0, "side_vents_open")]


def test_the_search_is_made_finer_where_it_would_pass_the_hour_over() -> None:
    later = Change("later", "later", 1, "hour", shift_s=3600.0)
    plan = made_plan(trip(replace(NUC, closing=SHUT), "open_trailer"), road(3.0, waypoints=2, vertices=61))
    begin_s = float(plan.departures_s[0])
    asked = replace(plan.trip, window=DepartureWindow(begin_s, begin_s + 14400.0, 7200.0))
    drafted = draft_edits(plan, ONLY, [later], catalogue(), asked)
    assert drafted is not None
    assert drafted.edits == (Edit(("window", "step_minutes"), 60),)


def test_groups_that_ride_apart_are_pinned_where_they_ride() -> None:
    first = replace(NUC, closing=SHUT, loading_place="open_trailer")
    found = edits_of((first, replace(first, loading_place="boot_dark")), SCREENS, (NUC, NUC), stops=STOPS)
    assert found is not None
    assert [found[("load", row, "place")] for row in (0, 1)] == ["open_trailer", "boot_dark"]


def test_elsewhere_boxes_are_shut_as_the_answer_shuts_them_there() -> None:
    planned = trip(replace(NUC, closing=SHUT), "open_trailer")
    dawn = Closing("before_sunrise", fixed=True)
    known = {(5.0, "open_trailer"): (dawn,)}
    later = Change("later", "later", 1, "hour", shift_s=3600.0)
    late = Change("late", "late", 1, "closing", shift_s=3600.0)
    assert closings_of(planned, [later], known, 5.0, "open_trailer") == (dawn,)
    assert closings_of(planned, [later], known, 6.0, "open_trailer") == (SHUT,)
    assert closings_of(planned, [SCREENS], known, 5.0, "open_trailer") == (SHUT,)
    assert closings_of(planned, [late], known, 5.0, "open_trailer") == (SHUT,)


def test_a_usual_rule_that_was_chosen_is_fixed() -> None:
    assert settled(Closing("after_sunset", 900.0), "at_loading", 7.0) == SHUT
    assert settled(Closing("after_sunset", 900.0), "after_sunset", 7.0).delay_s == 900.0
