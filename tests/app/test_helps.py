"""Changes: what helps, in the right order; the smallest set that is enough, against brute force."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.app.advice.changes import Change, possible
from planner.app.advice.helps import (
    LEAST_GAIN_K,
    MOST_CHANGES,
    Bench,
    Helps,
    Set,
    Trial,
    as_document,
    gain_of,
    helps,
    in_words,
    safety_text,
    smallest_set,
)
from planner.app.answer.ask import Asked
from planner.app.answer.settled import asked_of_help, closings_elsewhere, settled_plan
from planner.app.plan.results import Choice, Plan
from planner.errors import Cancelled
from planner.model.preparations import AS_DECLARED, CLEAN_FLOOR, ROOF_SCREEN
from planner.model.records import Tolerated
from tests.app.answered import NIGHT, asked, tiny
from tests.app.chancy import NOON, planned
from tests.model.scenarios import (
    DAY_S,
    HOUR_S,
    NUC,
    SPRING,
    catalogue,
    halt,
    plan,
    replace,
    road,
    trip,
    weather,
)

ONLY = Choice(0, 0, 0)
GUMMED = replace(NUC, count=4, floor_blocked_share=1.0, frames_of_bees=6.0)


def rng() -> np.random.Generator:
    return np.random.default_rng(4)


@pytest.fixture(scope="module")
def gummed() -> Plan:
    """Nucs with gummed floors under a shut canopy on a cool day: common practice, no source, row T4."""
    return planned(
        GUMMED,
        "pickup_canopy_shut_dark",
        low_c=6,
        high_c=14,
        hours=3.5,
        leave_s=SPRING + DAY_S + 9.0 * HOUR_S,
        setups=(AS_DECLARED, CLEAN_FLOOR, ROOF_SCREEN),
    )


@pytest.fixture(scope="module")
def found(gummed: Plan) -> Helps:
    return helps(gummed, ONLY, catalogue(), rng())


# -- the smallest set ----------------------------------------------------------------------------


def toy(number: int, efforts: list[int], slots: list[int]) -> list[Change]:
    return [Change(f"c{i}", f"change {i}", efforts[i], f"slot {slots[i]}") for i in range(number)]


@given(st.data())
def test_the_smallest_set_is_that_of_brute_force(data: st.DataObject) -> None:
    """Whatever sets are enough (not only growing ones): fewest changes, then least effort, one per slot."""
    number = data.draw(st.integers(1, 6))
    small = st.lists(st.integers(0, 3), min_size=number, max_size=number)
    pool = toy(number, data.draw(small), data.draw(small))
    every = [s for size in range(MOST_CHANGES + 1) for s in combinations(range(number), size)]
    good = set(data.draw(st.lists(st.sampled_from(every), max_size=4)))

    def enough(sets: list[Set]) -> list[bool]:
        return [tuple(pool.index(c) for c in s) in good for s in sets]

    allowed = [s for s in good if len({pool[i].slot for i in s}) == len(s)]
    best = min(((len(s), sum(pool[i].effort for i in s)) for s in allowed), default=None)
    chosen, judged = smallest_set(pool, enough)
    assert (None if chosen is None else (len(chosen), sum(c.effort for c in chosen))) == best
    assert judged <= len(every)


def test_it_stops_at_the_first_that_is_enough() -> None:
    judged: list[Set] = []

    def enough(sets: list[Set]) -> list[bool]:
        judged.extend(sets)
        return [len(s) == 1 for s in sets]

    pool = toy(5, [2, 1, 3, 1, 2], [0, 1, 2, 3, 4])
    chosen, _ = smallest_set(pool, enough)
    assert chosen is not None
    assert chosen[0].effort == 1
    assert max(len(s) for s in judged) == 1


# -- changes -------------------------------------------------------------------------------------


def test_no_change_touches_a_legal_break_or_appears_twice() -> None:
    halts = [halt(45, "break"), halt(30, "rest")]
    stops = planned(GUMMED, "van_shut_dark", hours=3.0)
    way = road(3.0, waypoints=4)
    stopped = plan(
        trip(GUMMED, ("van_shut_dark",), leave_s=NOON, stops=halts),
        way,
        weather(16, 26, NOON - NOON % DAY_S - DAY_S),
    )
    names = [c.name for c in possible(stopped, ONLY, catalogue())]
    assert len(names) == len(set(names))
    assert "short_stop_2" in names
    assert "short_stop_1" not in names
    assert not any(name.startswith("stop_1_") for name in names)
    assert "doors_open" in names
    assert "net_off" not in {c.name for c in possible(stops, ONLY, catalogue())}


def test_a_moved_stop_stays_on_the_road(gummed: Plan) -> None:
    way = road(3.0, waypoints=3, vertices=61)
    stopped = plan(
        trip(NUC, ("open_trailer",), leave_s=NOON, stops=[halt(30)]),
        way,
        weather(16, 26, NOON - NOON % DAY_S - DAY_S),
    )
    moved = next(c for c in possible(stopped, ONLY, catalogue()) if c.name == "stop_1_later")
    assert moved.trip is not None
    there, new_way = moved.trip(stopped.trip, stopped.road)
    before, after = way.waypoint_vertex[1], new_way.waypoint_vertex[1]
    assert way.drive_s[after] - way.drive_s[before] == pytest.approx(1800.0, abs=200.0)
    assert there.stops[0].site.lat_deg == pytest.approx(way.lat_deg[after])
    assert there.stops[0].dwell_s == stopped.trip.stops[0].dwell_s


def test_a_change_alone_is_what_planning_with_it_gives(gummed: Plan) -> None:
    """The roof screen as a change against the plan's own set-up, at the middle of all ranges."""
    change = next(c for c in possible(gummed, ONLY, catalogue()) if c.name == "roof_screen")
    bench = Bench(gummed, ONLY, catalogue(), [change], rng(), 8)
    alone, with_it = bench.tried([(), (change,)])
    screen = gummed.setups.index("roof_screen")
    # what the plan did not look at closely it only read
    tried = [gummed.headroom(choice) for choice in (ONLY, Choice(0, 0, screen))]
    for trial, found in zip((alone, with_it), tried, strict=True):
        if found.exact:
            assert trial.headroom_k == pytest.approx(found.k, abs=0.3)
        else:
            assert (trial.headroom_k < 0.0) == (found.k < 0.0)
    assert any(found.exact for found in tried)
    assert with_it.level == gummed.worst_level(Choice(0, 0, screen))


def test_trying_together_is_trying_alone(gummed: Plan) -> None:
    every = possible(gummed, ONLY, catalogue())[:6]
    together = Bench(gummed, ONLY, catalogue(), every, rng(), 8).tried([(c,) for c in every])
    bench = Bench(gummed, ONLY, catalogue(), every, rng(), 8)
    for change, trial in zip(every, together, strict=True):
        (alone,) = bench.tried([(change,)])
        assert alone.headroom_k == pytest.approx(trial.headroom_k, abs=1e-4)
        assert np.array_equal(alone.harmed, trial.harmed)


# -- what helps ------------------------------------------------------------------------------------


def test_air_through_the_box_helps_a_gummed_nuc_most(found: Helps) -> None:
    first = [gain.change.name for gain in found.gains[:4]]
    assert {"roof_screen", "clean_floor"} & set(first)
    assert found.gains[0].no_harm > 0.2
    assert found.gains[0].certain


def test_the_smallest_set_is_enough_and_nothing_smaller_is(found: Helps) -> None:
    """Every subset with one change less is tried and found wanting."""
    assert found.smallest is not None
    assert found.smallest.enough(found.target)
    changes = found.smallest.changes
    assert not found.base.enough(found.target)
    bench = Bench(found.plan, ONLY, catalogue(), possible(found.plan, ONLY, catalogue()), rng())
    smaller = [s for size in range(len(changes)) for s in combinations(found.pool, size)]
    smaller = [s for s in smaller if len({c.slot for c in s}) == len(s)]
    assert not any(trial.enough(found.target) for trial in bench.tried(smaller))


def test_the_words_name_gain_and_effort(found: Helps) -> None:
    said = in_words(found)
    assert "of 100 variants instead of" in said.changes[0]
    assert "effort" in said.changes[0]
    assert said.smallest.startswith("Smallest set that is enough")
    document = as_document(found, said)
    assert document["smallest"] == [c.name for c in found.smallest.changes]  # type: ignore[union-attr]


def with_harm(trial: Trial, harmed: int) -> Trial:
    """The trial with so many of its samples harmed, the last ones."""
    return replace(trial, level=0, harmed=np.arange(trial.harmed.size) >= trial.harmed.size - harmed)


def test_a_gain_inside_its_error_is_no_gain(found: Helps) -> None:
    """120 of 128 without harm against 122: chance alone does that; 122 of 128 is what the target calls enough."""
    base = with_harm(found.base, 8)
    trial = replace(with_harm(found.base, 6), changes=found.gains[0].trial.changes)
    gain = gain_of(base, trial)
    assert not gain.told
    said = in_words(replace(found, base=base, gains=(replace(gain, headroom_k=1.0),), smallest=trial))
    assert "no change in safety (94 of 100)" in said.changes[0]
    assert said.smallest.startswith(
        "No change in safety that 128 variants can tell: no harm in 94 of 100 as it"
    )
    assert "in 95 (± 2) with" in said.smallest


def test_a_change_beyond_its_error_is_told_either_way(found: Helps) -> None:
    many, few = with_harm(found.base, 64), with_harm(found.base, 8)
    assert gain_of(many, few).told
    assert gain_of(few, many).told
    assert safety_text(few, gain_of(few, many)) == "no harm in 50 of 100 variants instead of 94"


def test_the_same_seed_gives_the_same_ranking(found: Helps, gummed: Plan) -> None:
    again = helps(gummed, ONLY, catalogue(), rng())
    assert [g.change.name for g in again.gains] == [g.change.name for g in found.gains]


def test_hours_without_weather_are_left_out(gummed: Plan) -> None:
    late = planned(leave_s=SPRING + 2 * DAY_S + 20.0 * HOUR_S)
    ends = float(late.weather.time_s[-1])
    found = helps(late, ONLY, catalogue(), rng(), samples=8)
    for gain in found.gains:
        assert late.departures_s[0] + gain.change.shift_s < ends


def test_searching_can_be_stopped(gummed: Plan) -> None:
    with pytest.raises(Cancelled):
        helps(gummed, ONLY, catalogue(), rng(), should_stop=lambda: True)


# -- cold ------------------------------------------------------------------------------------------


WEAK = replace(
    NUC, frames_of_bees=1.5, open_brood_frames=0.5, sealed_brood_frames=1.0, roof="screen", stores_frames=1.0
)


def cold_gain(high_c: float, wind_ms: float) -> float:
    """What covering three quarters of the roof screen gains, in kelvin of margin or warmth."""
    leave_s = SPRING + DAY_S + 2.0 * HOUR_S
    sky = weather(high_c - 8.0, high_c, SPRING, wind_ms=wind_ms)
    found = plan(trip(WEAK, "open_trailer", leave_s=leave_s), road(4.0), sky)
    covered = next(c for c in possible(found, ONLY, catalogue()) if c.name == "cover_0.75")
    bare, over = Bench(found, ONLY, catalogue(), [covered], rng(), 8).tried([(), (covered,)])
    return over.headroom_k - bare.headroom_k


def test_a_weak_box_on_a_windy_trailer_wants_its_screen_covered() -> None:
    assert cold_gain(2.0, 8.0) > 0.5


def test_on_a_hot_day_the_screen_stays_open() -> None:
    assert cold_gain(34.0, 2.0) <= 0.0


# -- what is promised is what comes -----------------------------------------------------------------


def test_both_figures_come_of_the_answers_samples_and_apply_plans_to_what_was_promised() -> None:
    """The load as the answer has it, shut as it does, then every change of the boxes written in and planned anew.

    As Apply writes it: a trip that leaves the closings open may be shut otherwise, and so fare otherwise.
    """
    groups = (replace(NUC, label="a", floor_blocked_share=0.8), replace(NUC, label="b", count=2))
    asked_trip = tiny(
        groups, ("pickup_bed", "pickup_canopy_shut_dark"), leave_s=NIGHT - 8.0 * HOUR_S, departures=1
    )
    counts = (8, 32)
    found = asked(asked_trip, 20.0, 34.0, counts=counts, otherwise=False)
    said = found.answer(finished=True)
    assert said.best is not None
    held = settled_plan(said, said.best, catalogue())
    told = helps(held, ONLY, catalogue(), rng(), samples=16, drawn=found.race.field, places=said.places)
    assert told.base.harmed.size == 32
    assert said.best.harm_of_100 is not None
    assert round(100.0 * told.base.harmed.mean(), 1) == said.best.harm_of_100.value
    assert all(gain.telling for gain in told.gains if gain.trial.harmed.size == 32)
    best = [gain for gain in told.gains if gain.telling and gain.change.boxes]
    assert best
    types = catalogue().box_types
    for gain in best[:2]:
        change = gain.change.boxes
        assert change is not None
        changed = tuple(change(group, types[group.box_type]) for group in held.trip.groups)
        again = asked(replace(asked_trip, groups=changed), 20.0, 34.0, counts=counts, otherwise=False)
        key = next(
            one.key
            for one in again.race.candidates()
            if one.place == said.best.place and not any(one.key.setups)
        )
        again.race.field.judge([key], 32)
        planned_anew = again.race.record(key).harm_of_100
        assert planned_anew is not None
        assert planned_anew.value == round(100.0 * gain.trial.harmed.mean(), 1), gain.change.name


def test_the_boxes_may_be_put_elsewhere() -> None:
    """Found in use: an answer pins every group, so that no other place was ever offered."""
    asked_trip = tiny(NUC, ("boot_dark", "open_trailer"), leave_s=NIGHT - 8.0 * HOUR_S, departures=1)
    found = asked(asked_trip, 20.0, 34.0, counts=(8,), otherwise=False)
    said = found.answer(finished=True)
    boot = next(one for one in said.candidates if one.place == "boot_dark")
    own = settled_plan(said, boot, catalogue())
    names = {change.name for change in possible(own, ONLY, catalogue(), places=said.places)}
    assert "place_open_trailer" in names
    held = replace(asked_trip, groups=(replace(NUC, loading_place="boot_dark"),))
    pinned = settled_plan(replace(said, trip=held), boot, catalogue())
    assert not any(change.place for change in possible(pinned, ONLY, catalogue(), places=said.places))


def dawn_in_a_shut_car(
    low_c: float = 3.0, *, counts: tuple[int, ...] = (8, 32, 128), **more: object
) -> Asked:
    """A nucleus of six frames behind foam in a car with its windows shut, 75 minutes from first light on a cold day."""
    boxes = replace(NUC, frames_of_bees=6.0, floor_blocked_share=0.5, entrance="foam")
    planned_trip = tiny(boxes, "cabin_shut_dark", leave_s=SPRING + DAY_S + 5.0 * HOUR_S, departures=1, **more)
    return asked(planned_trip, low_c, low_c + 17.0, way=road(1.25, 62.0), counts=counts, otherwise=False)


def test_what_the_answer_asks_for_is_among_what_helps() -> None:
    """Found in use: "go if the roof screens are on", but nothing helps: that was asked of boxes with screens on."""
    found = dawn_in_a_shut_car(tolerance=Tolerated(15.0, 15.0))
    said = found.answer(finished=True)
    assert said.best is not None
    assert said.declared is not None
    assert (said.decision, said.best.setup) == ("go_if", "roof_screen")
    loaded = asked_of_help(said, said.best)
    assert loaded.key == said.declared.key
    told = helps(
        settled_plan(said, loaded, catalogue()), ONLY, catalogue(), rng(), samples=32, drawn=found.race.field,
        places=said.places, tolerance=said.tolerance, elsewhere=closings_elsewhere(said, loaded),
    )  # fmt: skip
    assert said.best.harm_of_100 is not None
    assert said.declared.harm_of_100 is not None
    assert round(100.0 * told.base.harmed.mean(), 1) == said.declared.harm_of_100.value
    screens = next(gain for gain in told.gains if gain.change.name == "roof_screen")
    assert screens.telling
    assert round(100.0 * screens.trial.harmed.mean(), 1) == said.best.harm_of_100.value
    assert told.smallest is not None
    assert told.smallest.changes


def test_a_candidate_somebody_has_chosen_is_what_help_is_asked_of() -> None:
    said = dawn_in_a_shut_car(counts=(8,)).answer(finished=True)
    other = next(one for one in said.candidates if said.best is not None and one.key != said.best.key)
    assert asked_of_help(said, other) is other


def test_what_few_samples_cannot_tell_is_told_in_all_of_them() -> None:
    """Found in use: the plan tells that roof screens halve the harm, and what helps had left them out after 128."""
    found = dawn_in_a_shut_car(1.0, counts=(8, 32, 128, 512), tolerance=Tolerated(50.0, 50.0))
    said = found.answer(finished=True)
    assert said.best is not None
    plan_ = settled_plan(said, said.best, catalogue())
    every = helps(plan_, ONLY, catalogue(), rng(), samples=512, drawn=found.race.field)
    screens = next(gain for gain in every.gains if gain.change.name == "roof_screen")
    saved = np.flatnonzero(every.base.harmed & ~screens.trial.harmed)
    count = int(saved[0]) + 1  # one of so many is saved: chance alone may do that
    few = helps(plan_, ONLY, catalogue(), rng(), samples=count, drawn=found.race.field)
    known = {gain.change.name: gain for gain in every.gains if gain.certain}
    found_again = {gain.change.name: gain for gain in few.gains if gain.certain}
    by_harm_alone = {name for name, gain in known.items() if gain.headroom_k < LEAST_GAIN_K}
    assert by_harm_alone & set(found_again), "few samples alone would offer none of these"
    assert all(gain.no_harm == known[name].no_harm for name, gain in found_again.items())


def test_nothing_is_told_to_help_and_to_make_it_worse(found: Helps) -> None:
    """Found in use: air conditioning, harm in 7 of 100 fewer and 3.5 degrees less headroom, stood in both lists."""
    harmed = with_harm(found.base, 64)
    cooled = replace(gain_of(harmed, with_harm(found.gains[0].trial, 8)), headroom_k=-3.5)
    unsafe = replace(gain_of(harmed, with_harm(found.gains[1].trial, 120)), headroom_k=0.0)
    said = in_words(replace(found, base=harmed, gains=(cooled, unsafe)))
    assert (len(said.changes), len(said.worse)) == (1, 1)
    assert cooled.change.title[1:] in said.changes[0]
    assert unsafe.change.title[1:] in said.worse[0]
