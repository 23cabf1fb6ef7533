"""What helps and how much water, number by number: gains, their order, what is enough, what is carried."""

from __future__ import annotations

from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from planner.app.advice import water
from planner.app.advice.apply import draft_edits
from planner.app.advice.changes import Change, altered, box_changes, narrowed
from planner.app.advice.helps import (
    BATCH,
    POOL,
    Bench,
    Gain,
    Helps,
    Trial,
    _order,
    as_document,
    gain_of,
    gained_text,
    helps,
    in_words,
    on_fewest_groups,
    smallest_set,
    starts_apart,
)
from planner.app.advice.water import GroupWater, WaterPlan, _Ride, _smallest, water_plan
from planner.app.answer.records import Tolerance
from planner.app.plan.results import TYPICAL, Choice, Plan
from planner.model.limits import CAUTION, CLEAR, HARM, UNKNOWN
from planner.model.records import Misting
from planner.units import METRIC, US
from tests.app.chancy import planned
from tests.app.handmade import made_plan
from tests.app.test_deciding import made
from tests.model.scenarios import HOUR_S, NUC, SPRING, catalogue, halt, plan, replace, road, steady, trip

ONLY = Choice(0, 0, 0)


def change(name: str = "c", effort: int = 1, slot: str = "") -> Change:
    return Change(name, f"do {name}", effort, slot or name)


def trial(
    harmed: Sequence[int] = (0, 0, 0, 0), headroom_k: float = 2.0, level: int = CLEAR, *changes: Change
) -> Trial:
    found = np.array(harmed, dtype=bool)
    return Trial(changes, level, headroom_k, found, np.where(found, -98.0, 2.0))


# -- one change ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("level", "harmed", "target", "enough"),
    [
        (CLEAR, (0, 0, 0, 1), 0.75, True),
        (CAUTION, (0, 0, 0, 1), 0.75, True),
        (CLEAR, (0, 0, 0, 1), 0.76, False),
        (HARM, (0, 0, 0, 0), 0.75, True),
        (UNKNOWN, (0, 0, 0, 0), 0.75, False),
    ],
)
def test_enough_is_no_harm_in_the_target_share_whatever_the_middle_says(
    level: int, harmed: tuple[int, ...], target: float, enough: bool
) -> None:
    assert trial(harmed, 2.0, level).enough(target) is enough


@pytest.mark.parametrize(
    ("hits", "samples", "share", "within", "seems"),
    [
        (0, 8, 1.0, False, True),  # few samples decide nothing
        (0, 128, 1.0, True, True),
        (90, 1024, 0.1, False, True),  # 9 of 100, but up to 10.4
        (72, 1024, 0.1, True, True),
        (72, 1024, 1.0, False, False),  # 7 of 100 variants, and of 100 boxes 7
        (300, 1024, 0.1, False, False),
    ],
)
def test_enough_is_within_what_is_accepted_by_both_intervals_as_the_answer_decides(
    hits: int, samples: int, share: float, within: bool, seems: bool
) -> None:
    """Found in use: below *do not go* stood that nothing need be changed, for the boxes were not counted."""
    harmed = np.arange(samples) < hits
    one = Trial((), CLEAR, 2.0, harmed, np.zeros(samples), share * harmed)
    accepted = Tolerance(10.0, 5.0, "default")
    assert one.within(accepted) is within
    assert one.seems_within(accepted) is seems
    assert not replace(one, level=UNKNOWN).within(accepted)


def test_what_is_accepted_is_said_where_nothing_is_enough() -> None:
    found = Helps(
        made_plan(trip(NUC, "open_trailer"), road(1.0)),
        ONLY,
        trial(),
        (),
        trial(),
        1,
        (),
        0.9,
        Tolerance(10.0, 5.0, "trip"),
    )
    wanted = "what you accept (harm in 10 of 100 variants and to 5 of 100 boxes)"
    assert in_words(found).smallest == f"Nothing need be changed for {wanted}."
    none = replace(found, smallest=None, pool=(change(),))
    assert in_words(none).smallest.startswith(
        f"No set of up to 3 of the 1 changes that help comes to {wanted} ("
    )


def test_a_gain_is_counted_sample_by_sample() -> None:
    """Saved in two of four, harmed anew in one: a quarter; its error sqrt((11/16 + 1/4) / 4)."""
    found = gain_of(trial((1, 1, 0, 0), 1.0), trial((0, 0, 1, 0), 2.5))
    assert found.no_harm == 0.25
    assert found.no_harm_error == pytest.approx(np.sqrt((11 / 16 + 1 / 4) / 4))
    assert found.headroom_k == 1.5


@pytest.mark.parametrize(("before", "after", "gain"), [(7.0, 12.0, 1.0), (9.0, 12.0, 0.0), (-2.0, 9.0, 10.0)])
def test_margin_beyond_eight_kelvin_is_no_gain(before: float, after: float, gain: float) -> None:
    assert gain_of(trial(headroom_k=before), trial(headroom_k=after)).headroom_k == gain


@pytest.mark.parametrize(
    ("no_harm", "error", "headroom_k", "certain", "telling"),
    [
        (0.21, 0.10, 0.0, True, True),
        (0.20, 0.10, 0.0, False, False),
        (0.20, 0.10, 0.5, False, True),
        (0.0, 0.1, 0.499, False, False),
        (-0.5, 0.1, -1.0, False, False),
    ],
)
def test_a_gain_tells_beyond_twice_its_error_or_half_a_kelvin(
    no_harm: float, error: float, headroom_k: float, certain: bool, telling: bool
) -> None:
    found = Gain(trial((0,), 0.0, CLEAR, change()), headroom_k, no_harm, error)
    assert (found.certain, found.telling) == (certain, telling)


def test_gains_are_ranked_by_samples_saved_then_margin_then_least_work() -> None:
    """Steps of one in twenty and of half a kelvin: what lies within a step counts as equal."""

    def gain(name: str, no_harm: float, headroom_k: float, effort: int) -> Gain:
        return Gain(trial((0,), 0.0, CLEAR, change(name, effort)), headroom_k, no_harm, 0.01)

    gains = [
        gain("hard", 0.20, 1.0, 3),
        gain("easy", 0.21, 1.1, 1),
        gain("cooler", 0.19, 1.6, 3),
        gain("safest", 0.27, 0.0, 5),
        gain("worse", -0.10, 4.0, 0),
    ]
    assert [g.change.name for g in sorted(gains, key=_order)] == ["safest", "cooler", "easy", "hard", "worse"]


# -- the smallest set -------------------------------------------------------------------------------


def test_no_set_grows_beyond_the_most() -> None:
    pool = [change(f"c{i}") for i in range(4)]
    sizes: list[int] = []

    def never(sets: list[tuple[Change, ...]]) -> list[bool]:
        sizes.extend(len(s) for s in sets)
        return [False] * len(sets)

    assert smallest_set(pool, never, most=2) == (None, 1 + 4 + 6)
    assert sizes == sorted(sizes)
    assert smallest_set(pool, never)[1] == 1 + 4 + 6 + 4


def test_sets_are_judged_so_many_at_a_time_and_never_of_two_sizes() -> None:
    batches: list[set[int]] = []

    def never(sets: list[tuple[Change, ...]]) -> list[bool]:
        assert len(sets) <= BATCH
        batches.append({len(s) for s in sets})
        return [False] * len(sets)

    smallest_set([change(f"c{i}") for i in range(12)], never, most=2)
    assert all(len(sizes) == 1 for sizes in batches)
    assert len(batches) == 1 + 1 + 2  # none; twelve; sixty-six in two


def test_an_empty_set_may_be_enough() -> None:
    assert smallest_set([change()], lambda sets: [True] * len(sets)) == ((), 1)


def test_among_equals_the_pools_own_order_decides() -> None:
    pool = [change("a", 2), change("b", 1), change("c", 1)]
    found, _ = smallest_set(pool, lambda sets: [len(s) == 2 for s in sets])
    assert found is not None
    assert [c.name for c in found] == ["b", "c"]


# -- the bench -------------------------------------------------------------------------------------


def test_trips_place_hour_and_boxes_change_together_as_planned_alone() -> None:
    """Middle of all ranges: no net, on the trailer, an hour later, screen on - as the plan of just that trip has it."""
    group = replace(NUC, count=2)
    found = planned(group, ("van_shut_dark", "open_trailer"), high_c=20.0, hours=1.0, net=True, stops=())
    changed = [
        Change("net_off", "", 1, "net", trip=lambda t, r: (replace(t, net=False), r)),
        Change("place_open_trailer", "", 1, "place", place="open_trailer"),
        Change("leave_+1h", "", 1, "hour", shift_s=HOUR_S),
        Change("roof_screen", "", 1, "roof", boxes=lambda g, _: replace(g, roof="shaded_screen")),
    ]
    bench = Bench(found, ONLY, catalogue(), changed, np.random.default_rng(1), 2)
    nothing, together = bench.tried([(), tuple(changed)])
    later = replace(
        found.trip.window,
        first_s=found.trip.window.first_s + HOUR_S,
        last_s=found.trip.window.last_s + HOUR_S,
    )
    alone = plan(
        replace(found.trip, net=False, window=later, groups=(replace(group, roof="shaded_screen"),)),
        found.road,
        found.weather,
    )
    assert nothing.headroom_k == pytest.approx(found.headroom_k(ONLY), abs=0.25)
    assert bench.tried([(changed[1],)])[0].headroom_k == pytest.approx(
        found.headroom_k(Choice(0, 1, 0)), abs=0.25
    )
    spare_k = alone.outcomes.headroom_k[0, 1, 0, TYPICAL].min()
    assert together.headroom_k == pytest.approx(spare_k, abs=0.1)
    assert together.level == alone.worst_level(Choice(0, 1, 0))
    assert together.harmed.shape == (2,)


def test_an_ensemble_is_what_changes_are_tried_in() -> None:
    """A member that boils the boxes harms them, however mild the weather of the plan itself."""
    mild = planned(NUC, "van_shut_dark", high_c=16.0, low_c=10.0, hours=0.5, stops=())
    boiling = replace(mild.weather, air_c=mild.weather.air_c + 40.0)
    benches = [
        Bench(mild, ONLY, catalogue(), [], np.random.default_rng(1), 4, weathers)
        for weathers in ((), (boiling,))
    ]
    calm, hot = (bench.tried([()])[0] for bench in benches)
    assert not calm.harmed.any()
    assert hot.harmed.all()


def test_progress_is_told_half_way_and_at_the_end() -> None:
    seen: list[float] = []
    weak = replace(NUC, frames_of_bees=2.0, stores_frames=0.0)
    quiet = planned(weak, high_c=18.0, low_c=10.0, hours=0.5)
    found = helps(quiet, ONLY, catalogue(), np.random.default_rng(1), samples=2, on_progress=seen.append)
    assert seen == [0.5, 1.0]
    assert found.searched >= 1
    assert len(found.pool) <= POOL
    assert found.smallest is not None
    assert found.smallest.changes == ()


# -- words and documents ---------------------------------------------------------------------------


@pytest.fixture
def advice() -> Helps:
    """Harm in one of four as it is; four changes of which one helps and one does harm."""
    base = trial((1, 0, 0, 0), 1.0)
    names = ("better", "same", "worse", "slightly")
    trials = [
        trial((0, 0, 0, 0), 2.25, CLEAR, change("better", 2)),
        trial((1, 0, 0, 0), 1.05, CLEAR, change("same")),
        trial((1, 1, 0, 0), 0.5, HARM, change("worse")),
        trial((1, 0, 0, 0), 0.55, CAUTION, change("slightly")),
    ]
    assert [t.changes[0].name for t in trials] == list(names)
    gains = tuple(gain_of(base, t) for t in trials)
    found = made_plan(trip(NUC, "open_trailer"), road(1.0))
    return Helps(found, ONLY, base, gains, trials[0], 7, (trials[0].changes[0],), 0.95)


def test_only_what_helps_is_told_and_apart_what_does_harm(advice: Helps) -> None:
    """Half a kelvin of margin lost is worth a warning, less is not."""
    said = in_words(advice)
    assert len(said.changes) == 1
    assert all(text in said.changes[0].lower() for text in ("do better", "100", "75", "1.2 degrees more"))
    assert len(said.worse) == 1
    assert "do worse" in said.worse[0].lower()
    assert "0.5 degrees less" in said.worse[0]
    assert "with typical bees and every figure at its middle, not in the variants: 1 degree." in said.headline
    assert "do better" in said.smallest
    assert said.smallest.startswith("No change in safety that 4 variants can tell")


def test_so_many_changes_are_told_the_best_first(advice: Helps) -> None:
    many = replace(advice, gains=(advice.gains[0],) * 14 + (advice.gains[2],) * 5)
    assert len(in_words(many).changes) == 10
    assert len(in_words(many, most=3).changes) == 3
    assert len(in_words(many).worse) == 3


def test_units_are_the_readers(advice: Helps) -> None:
    """1.25 K are 2.25 °F, 1.0 K are 1.8 °F."""
    said = in_words(advice, US)
    assert "2.2 °F" in said.changes[0]
    assert "2 °F" in said.headline


def test_what_was_not_found_is_said_as_such(advice: Helps) -> None:
    texts = {
        "none helps": in_words(replace(advice, smallest=None, pool=())).smallest,
        "no set": in_words(replace(advice, smallest=None)).smallest,
        "no need": in_words(replace(advice, smallest=advice.base)).smallest,
    }
    assert len(set(texts.values())) == 3
    assert "4 changes" in texts["none helps"]
    assert "95 of 100" in texts["no set"]
    assert len(in_words(replace(advice, gains=())).changes) == 1


def test_the_document_gives_gains_to_four_places(advice: Helps) -> None:
    document = as_document(advice, in_words(advice))
    assert document["no_harm"] == 0.75
    assert document["headroom_k"] == document["margin_k"] == 1.0
    assert document["smallest"] == ["better"]
    first = document["changes"][0]
    assert first == {
        "name": "better",
        "title": "do better",
        "effort": 2,
        "level": "clear",
        "no_harm": 1.0,
        "no_harm_gain": 0.25,
        "no_harm_gain_error": round(float(np.sqrt((3 / 16 + 1 / 4) / 4)), 4),
        "headroom_gain_k": 1.25,
        "margin_gain_k": 1.25,
    }
    assert [row["level"] for row in document["changes"]] == ["clear", "clear", "harm", "caution"]
    unknown = replace(advice, smallest=None, base=replace(advice.base, headroom_k=float("nan")))
    assert as_document(unknown, in_words(advice))["smallest"] is None
    assert as_document(unknown, in_words(advice))["headroom_k"] is None


# -- water -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("lasting", [True, False])
def test_water_that_gains_nothing_in_all_samples_is_no_advice(
    monkeypatch: pytest.MonkeyPatch, lasting: bool
) -> None:
    """A plan of water is picked in few samples; where it saves nobody in those of the answer, none is given."""

    class Fake:
        def __init__(self, *given: Any, **_: Any) -> None:
            self.samples = given[5]

        def tried(self, sets: Sequence[tuple[Change, ...]]) -> list[Trial]:
            bad, helped = np.ones(self.samples, int), self.samples < 1024 or lasting
            return [
                trial(bad if changes[0].name == "dry" or not helped else 0 * bad, 2.0, CLEAR, *changes)
                for changes in sets
            ]

    monkeypatch.setattr(water, "Bench", Fake)
    drawn: Any = SimpleNamespace(most=1024)
    found = water_plan(planned(NUC, "open_trailer", hours=1.0, stops=()), ONLY, catalogue(),
                       np.random.default_rng(1), samples=64, drawn=drawn)  # fmt: skip
    assert (found.misting is not None) == lasting
    assert found.without.harmed.size == found.with_it.harmed.size == 1024
    assert any(group.times_s for group in found.groups) == lasting


def ride(air_c: Sequence[float], moving: Sequence[bool] = (), start_s: float = 0.0) -> _Ride:
    """A group aboard for so many steps of half an hour."""
    time_s = start_s + (np.arange(len(air_c)) + 0.5) * 1800.0
    return _Ride(start_s, time_s, np.array(air_c), np.array(moving or [True] * len(air_c)))


def test_water_is_due_from_the_first_time_on_where_it_is_warm_enough() -> None:
    """Aboard four hours: due after an hour, then every half hour; the air warms past 15 C after two."""
    found = ride([10.0] * 4 + [15.0] * 4)
    warm, cold = found.due(Misting(20.0, 3600.0, 1800.0), 15.0)
    assert cold.tolist() == [3600.0, 5400.0]
    assert warm.tolist() == [7200.0, 9000.0, 10_800.0, 12_600.0]


def test_who_does_not_ride_gets_no_water() -> None:
    assert [times.size for times in ride([]).due(Misting(20.0, 3600.0, 1800.0), 15.0)] == [0, 0]


def test_whether_it_stands_is_told_for_every_time() -> None:
    """Half hours driving, standing, driving; what comes later is as the last."""
    found = ride([20.0] * 3, [True, False, True])
    assert found.stands(np.array([600.0, 2400.0, 4200.0, 1e6])) == (False, True, False, False)


def picked(worth: Sequence[tuple[float, int]], amounts: Sequence[float]) -> int | None:
    """Plans by margin gained (K) and samples saved of 100, and their water."""
    dry = trial((1,) * 50 + (0,) * 50, 1.0)
    tried = [trial((1,) * (50 - saved) + (0,) * (50 + saved), 1.0 + gained) for gained, saved in worth]
    return _smallest(tried, dry, amounts)


def test_the_least_water_that_gains_nearly_as_much_is_taken() -> None:
    """Gains of 1.0, 0.9 and 0.89 K: nine tenths of the best will do, less will not."""
    assert picked([(1.0, 0), (0.9, 0), (0.89, 0)], [300.0, 200.0, 100.0]) == 1
    assert picked([(1.0, 0), (0.95, 0)], [200.0, 200.0]) == 0


def test_what_gains_too_little_is_not_worth_a_stop() -> None:
    """0.3 K of margin, or three of a hundred samples if they are certain."""
    assert picked([(0.29, 0)], [10.0]) is None
    assert picked([(0.31, 0)], [10.0]) == 0
    assert picked([(0.0, 2)], [10.0]) is None
    assert picked([(0.0, 20)], [10.0]) == 0
    assert picked([(0.31, 0), (0.0, 20)], [10.0, 500.0]) == 1


def test_where_the_weather_is_not_known_no_water_is_planned() -> None:
    assert picked([(float("nan"), 0), (2.0, 0)], [10.0, 10.0]) is None


@pytest.fixture(scope="module")
def thirsty() -> WaterPlan:
    """Three hours at a steady 32 C, very dry, two groups of strong nucs with screens; half an hour's rest."""
    strong = replace(NUC, count=4, roof="shaded_screen", frames_of_bees=6.0)
    asked = trip((strong, replace(strong, label="more", count=2)), "open_trailer", stops=[halt(30)])
    found: Plan = plan(asked, road(3.0, waypoints=3), steady(32.0, dew_c=2.0))
    return water_plan(found, ONLY, catalogue(), np.random.default_rng(6), samples=8)


def test_half_as_much_again_is_carried_and_an_hour_for_every_box(thirsty: WaterPlan) -> None:
    """One and a half times the plan, and 50 ml for each of six boxes."""
    misting = thirsty.misting
    assert misting is not None
    times = len(thirsty.groups[0].times_s)
    assert times == len(thirsty.groups[1].times_s) > 0
    assert thirsty.carry_ml == pytest.approx(1.5 * 6 * times * misting.ml + 6 * 50.0)
    assert [group.box_ml for group in thirsty.groups] == [misting.ml * times] * 2


def test_times_lie_a_step_apart_from_loading_to_arrival(thirsty: WaterPlan) -> None:
    """Loading begins half an hour before wheels turn."""
    assert thirsty.misting is not None
    group = thirsty.groups[0]
    boarded = float(thirsty.plan.departures_s[0]) - 1800.0
    assert group.times_s[0] == boarded + thirsty.misting.first_s
    assert set(np.diff(group.times_s)) <= {thirsty.misting.every_s}
    assert group.times_s[-1] < thirsty.plan.arrives_s[0]
    stop = float(thirsty.plan.departures_s[0]) + 1.5 * HOUR_S
    resting = [stop <= t < stop + 1800.0 or t < boarded + 1800.0 for t in group.times_s]
    assert list(group.standing) == resting


def test_what_the_bees_spend_is_the_plans(thirsty: WaterPlan) -> None:
    outcomes = thirsty.plan.outcomes
    for g, group in enumerate(thirsty.groups):
        assert group.used_ml == pytest.approx(outcomes.water_ml[0, 0, 0, 1, g])
        assert group.short_ml == pytest.approx(tuple(outcomes.water_short_ml[0, 0, 0, :, g]))


def test_the_water_document_is_rounded(thirsty: WaterPlan) -> None:
    group = replace(
        thirsty.groups[0],
        ml=20.0,
        times_s=(SPRING,),
        cold_s=(SPRING + 60.0,),
        used_ml=33.333,
        short_ml=(0.04, 1.26, 9.99),
    )
    document = water.as_document(replace(thirsty, groups=(group,), carry_ml=123.6), water.in_words(thirsty))
    assert document["carry_ml"] == 124
    (row,) = document["groups"]
    assert row["times"] == ["2027-03-29T00:00:00Z"]
    assert row["too_cold_at"] == ["2027-03-29T00:01:00Z"]
    assert (row["used_ml"], row["short_ml"]) == (33.3, [0.0, 1.3, 10.0])
    assert document["misting"] == {
        name: getattr(thirsty.misting, name) for name in ("ml", "first_s", "every_s")
    }


def group_words(thirsty: WaterPlan, units: Any = None, **more: Any) -> str:
    group = GroupWater("nuc", 3, 20.0, (SPRING, SPRING + 1800.0), (), (False, True), 40.0, (2.0, 5.0, 10.0))
    found = replace(thirsty, groups=(replace(group, **more),))
    return water.in_words(found, *([units] if units else [])).groups[0]


def test_water_for_a_group_in_words(thirsty: WaterPlan) -> None:
    """Two times at 02:00 and 02:30 in Rome, 20 ml for each of three boxes: 120 ml; a litre is told in litres."""
    said = group_words(thirsty)
    assert all(text in said for text in ("nuc", "40 ml", "20 ml", "02:00, 02:30", "120 ml"))
    assert "10 ml" not in said  # lacking no more than ten is not worth a word
    assert "2 ml to 11 ml" in group_words(thirsty, short_ml=(2.0, 5.0, 11.0))
    assert "1.2 litres" in group_words(thirsty, boxes=30)
    assert "999 ml" in group_words(thirsty, boxes=1, ml=499.5)
    assert "fl oz" in group_words(thirsty, US, boxes=300)
    assert "03:00" in group_words(thirsty, cold_s=(SPRING + 3600.0,))
    assert "02:00" not in group_words(thirsty, times_s=())


def test_water_in_words_says_how_much_to_carry(thirsty: WaterPlan) -> None:
    assert f"{thirsty.misting.ml:.0f} ml" in water.in_words(thirsty).headline  # type: ignore[union-attr]
    dry = replace(thirsty, misting=None, carry_ml=300.0, groups=())
    assert "300 ml" in water.in_words(dry).headline
    cold = replace(dry, too_cold=True, limit_c=15.0)
    assert "15 °C" in water.in_words(cold).headline
    assert [len(water.in_words(each).advice) for each in (thirsty, dry, cold)] == [4, 2, 0]


@pytest.mark.parametrize(
    ("gained_k", "words"),
    [(3.64, "3.6 degrees more headroom with typical bees"), (-3.64, "3.6 degrees less headroom with typical bees"),
     (-0.04, "as much headroom with typical bees"), (0.0, "as much headroom with typical bees")],
)  # fmt: skip
def test_headroom_gained_is_told_as_more_or_less_of_typical_bees(gained_k: float, words: str) -> None:
    """A place that costs 3.6 degrees read "headroom -3.6 degrees", as if so much were left."""
    assert gained_text(gained_k, METRIC) == words


# -- on which groups a change is enough, and of which start it is told -------------------------------------------


SCREENS = next(each for each in box_changes() if each.name == "roof_screen")


def three_labels(*labels: str) -> Plan:
    """Groups of 3, 1 and 2 boxes, each a table of its own, under solid roofs."""
    groups = [replace(NUC, label=label, count=count) for label, count in zip(labels, (3, 1, 2), strict=True)]
    return made_plan(trip(groups, "open_trailer"), road(1.0))


@pytest.mark.parametrize(
    "needed", [("a",), ("b",), ("c",), ("a", "b"), ("a", "c"), ("b", "c"), ("a", "b", "c")]
)
@pytest.mark.parametrize("beside", [(), (change("other"),)])
def test_a_change_of_boxes_is_asked_of_the_groups_alone_that_need_it(
    needed: tuple[str, ...], beside: tuple[Change, ...]
) -> None:
    """Enough is what reaches all that need it; what else is in the set stays as it is."""

    def enough(sets: list[tuple[Change, ...]]) -> list[bool]:
        return [set(needed) <= set(one[-1].groups or "abc") and one[:-1] == beside for one in sets]

    found, judged = on_fewest_groups((*beside, SCREENS), SCREENS, ("b", "c", "a"), enough)
    assert sorted(found[-1].groups or "abc") == sorted(needed)
    assert found[:-1] == beside
    assert judged <= 5


def test_of_groups_that_need_not_all_have_it_the_one_with_most_boxes_goes_without() -> None:
    """Any two of three do: the two with fewest boxes are left."""
    found, _ = on_fewest_groups(
        (SCREENS,), SCREENS, ("b", "c", "a"), lambda sets: [len(one[0].groups) >= 2 for one in sets]
    )
    assert found[0].groups == ("b", "c")
    assert '(only "b", "c")' in found[0].title


def test_who_is_altered_is_told_by_labels_fewest_boxes_first_where_each_names_one_table() -> None:
    plan_ = three_labels("a", "b", "c")
    assert altered(SCREENS, plan_, ONLY, catalogue()) == ("b", "c", "a")
    assert altered(change("hour"), plan_, ONLY, catalogue()) == ()
    assert altered(SCREENS, three_labels("a", "b", "a"), ONLY, catalogue()) == ()
    groups = [replace(NUC, label="a", table=0), replace(NUC, label="a", table=0), replace(NUC, label="b")]
    split = made_plan(trip(groups, "open_trailer"), road(1.0))
    assert altered(SCREENS, split, ONLY, catalogue()) == ("b", "a")


def test_a_change_of_some_groups_is_written_into_their_tables_alone() -> None:
    plan_ = three_labels("a", "b", "c")
    drafted = draft_edits(plan_, ONLY, [narrowed(SCREENS, ("a", "c"))], catalogue())
    assert drafted is not None
    assert {edit.spot[:2] for edit in drafted.edits} == {("load", 0), ("load", 2)}


def test_the_smallest_set_names_its_groups_for_machines_too() -> None:
    few = trial((0,) * 8, 2.0, CLEAR, narrowed(SCREENS, ("a", "c")))
    found = Helps(three_labels("a", "b", "c"), ONLY, trial(), (), few, 1, (SCREENS,), 0.9)
    document = as_document(found, in_words(found))
    assert document["smallest"] == ["roof_screen"]
    assert document["smallest_groups"] == {"roof_screen": ["a", "c"]}


def test_where_the_answer_names_another_start_it_is_said_which_one_this_speaks_of() -> None:
    """A start inside the window of alike starts is the answer's own."""
    plan_ = three_labels("a", "b", "c")
    found = Helps(plan_, ONLY, trial(), (), trial(), 1, (), 0.9)
    leave_s = float(plan_.departures_s[0])
    there = replace(made(), leave_s=leave_s, leave_from_s=leave_s - HOUR_S, leave_to_s=leave_s + HOUR_S)
    later = replace(there, leave_s=leave_s + 2.0 * HOUR_S, leave_from_s=leave_s + 1.5 * HOUR_S)
    assert not starts_apart(leave_s, None)
    assert not starts_apart(leave_s, there)
    assert in_words(found, best=there).start == in_words(found).start == ""
    said = in_words(found, best=later).start
    assert said.count(".") == 1
    assert said.startswith("What helps is told of the load as you have it, at its own best start, ")
    assert as_document(found, in_words(found, best=later))["start_text"] == said
