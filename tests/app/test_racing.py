"""The race of the one answer: records follow what is judged, closings are settled, headroom is read coarsely."""

from __future__ import annotations

from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest

import planner.app.answer.field as field_module
import planner.app.chance.units as units_module
from planner.app.answer.ask import opened, slots_of
from planner.app.answer.decide import alike, order
from planner.app.answer.field import FIRST_LOOK, FIRST_STEP_S, Field
from planner.app.answer.otherwise import _may_be_least, _ways, floors_shut, outside, try_otherwise
from planner.app.answer.race import COARSE_STEP_S, Race, Slot, surely_more
from planner.app.answer.records import Candidate, Key
from planner.app.answer.tally import _changes, declared_places
from planner.app.chance.samples import STEP_S
from planner.app.chance.units import CLOSER_SHIFTS_K, SHIFTS_K, headroom_of
from planner.model.compare import HEADROOM_STEP_K
from planner.model.records import Closing, Group
from tests.app.answered import NIGHT, tiny
from tests.app.test_deciding import BOXES, USUAL, made
from tests.model.scenarios import DAY_S, HIVE, HOUR_S, NUC, catalogue, road, weather

COUNTS = (8, 16, 128)


def entered(low_c: float = 14.0, high_c: float = 26.0, group: Group = NUC) -> Race:
    """A morning's departures of one group, with several closings to choose from, in the first samples."""
    dawn = NIGHT - 14.0 * HOUR_S
    planned = tiny(group, leave_s=dawn, departures=2)
    sky = weather(low_c, high_c, dawn - dawn % DAY_S - DAY_S)
    laid = opened(planned, road(1.0, 60.0, waypoints=2), sky, catalogue(), counts=COUNTS)
    laid.race.enter(slots_of(laid.race.field))
    return laid.race


@pytest.fixture(scope="module")
def race() -> Race:
    return entered()


def test_a_record_follows_the_samples_of_its_own_departure(race: Race) -> None:
    """A slot is looked at anew only where its departure was judged on, but then always."""
    first, other = (next(slot for slot in race.slots if slot.departure == d) for d in (0, 1))
    assert [race.best_of(slot).samples for slot in (first, other)] == [8, 8]
    race.raise_to([first], 16)
    assert [race.best_of(slot).samples for slot in (first, other)] == [16, 8]
    assert race.record(race.best_of(first).key).samples == 16


def test_once_settled_a_slot_goes_on_with_its_better_closing_alone() -> None:
    race = entered()
    slot = next(iter(race.slots))
    race.slots[slot] = list(dict.fromkeys(race._closings(slot)))
    assert len(race.slots[slot]) > 1
    race.raise_to([slot], 16)
    better = race.best_of(slot).key
    race._settle_closings([slot])
    assert race.slots[slot] == [better]
    assert race.best_of(slot).key == better


def test_the_headroom_of_the_board_in_long_steps_is_that_in_short_ones() -> None:
    """To less than the step of headroom that the model can tell apart, on a day on which harm is near.

    So are the middles, which rank. Of the least, here the worst of eight samples, one in six was read 2.0 K lower: that
    of a box that is harmed as it is, which long steps reach at another moment.
    """
    race = entered(22.0, 36.0)
    keys = [race.best_of(slot).key for slot in race.slots]
    race.find_headroom()
    coarse = [race.record(key).headroom_k for key in keys]
    for each in race.field.judged.values():
        each.shifted.clear()
        each.headroom.clear()
    race._records.clear()
    race.field.judge_shifted(keys, COUNTS[0], SHIFTS_K, STEP_S)
    fine = [race.record(key).headroom_k for key in keys]
    assert COARSE_STEP_S > STEP_S
    assert all(band is not None for band in (*coarse, *fine))
    middle = [abs(a.p50 - b.p50) for a, b in zip(coarse, fine, strict=True) if a and b]
    assert 0.0 < max(middle) < HEADROOM_STEP_K
    least = [(a.p5 - b.p5, b.p5) for a, b in zip(coarse, fine, strict=True) if a and b]
    far = [(apart, spare) for apart, spare in least if abs(apart) >= HEADROOM_STEP_K]
    assert len(far) <= 1
    assert all(-2.1 < apart < 0.0 and spare < 0.0 for apart, spare in far)


def test_what_is_judged_does_not_depend_on_how_the_work_is_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    """By units, by samples, between threads, round by round on one passage or all at once: to the last bit."""
    whole = entered()
    keys = list(whole.slots[next(iter(whole.slots))])
    whole.field.judge(keys, 128)
    whole.look_closer(keys)
    monkeypatch.setattr(field_module, "LEAST_CELLS", 3_000)
    cut = entered()
    with ThreadPoolExecutor(3) as pool:
        cut.field._executor = pool
        for count in (16, 40, 128):
            cut.field.judge(keys, count)
        cut.look_closer(keys)
    assert len(cut.field._pieces(cut.field.units_of(keys[0]), slice(40, 128), (0.0,), STEP_S)) == 3
    for unit in (unit for key in keys for unit in whole.field.units_of(key)):
        one, other = whole.field.judged[unit], cut.field.judged[unit]
        for name in ("level", "ruined", "harm_h", "kept"):
            assert np.array_equal(getattr(one, name), getattr(other, name), equal_nan=name == "harm_h"), name
        assert one.shifted.keys() == other.shifted.keys()
        for shift, table in one.shifted.items():
            assert np.array_equal(table, other.shifted[shift], equal_nan=True)


def test_who_is_judged_on_rides_in_the_passage_that_is_known(monkeypatch: pytest.MonkeyPatch) -> None:
    """Way, weather and air of a few loads are found once, however many samples they meet later."""
    race = entered()
    followed: list[int] = []
    real = units_module.passage
    monkeypatch.setattr(
        units_module,
        "passage",
        lambda *args: followed.append(1) or real(*args),  # type: ignore[func-returns-value]
    )
    keys = race.slots[next(iter(race.slots))]
    race.field.judge(keys, 16)
    assert len(followed) == 1
    race.field.judge(keys, 128)
    race.field.judge(keys[:1], 128)
    assert len(followed) == 1


@pytest.mark.parametrize("shifts_k", [SHIFTS_K, CLOSER_SHIFTS_K])
@pytest.mark.parametrize(("low_c", "high_c"), [(22.0, 36.0), (-9.0, 1.0)])
def test_headroom_is_the_same_where_only_shifts_that_matter_are_tried(
    low_c: float, high_c: float, shifts_k: tuple[float, ...]
) -> None:
    """Oracle: every shift tried in every sample, on a day on which heat does harm and on a frosty one."""
    race = entered(low_c, high_c)
    field = race.field
    keys = [race.best_of(slot).key for slot in race.slots]
    units = [unit for key in keys for unit in field.units_of(key)]
    field.judge_shifted(keys, COUNTS[0], shifts_k, COARSE_STEP_S)
    some = [headroom_of(field.judged[unit], field.counted(unit))[0] for unit in units]
    tried = [np.isfinite(table).mean() for unit in units for table in field.judged[unit].shifted.values()]
    for unit in units:
        field.judged[unit].shifted.clear()
        field.judged[unit].headroom.clear()
    field._now = lambda *_: None  # type: ignore[method-assign]
    field.judge_shifted(keys, COUNTS[0], shifts_k, COARSE_STEP_S)
    every = [headroom_of(field.judged[unit], field.counted(unit))[0] for unit in units]
    np.testing.assert_array_equal(some, every)
    assert np.mean(tried) < {len(SHIFTS_K): 0.7, len(CLOSER_SHIFTS_K): 0.4}[len(shifts_k)]


def test_a_close_look_at_headroom_rests_on_all_its_samples() -> None:
    """Not on those alone that a coarse look at the board has met; and the board does not blur it again."""
    race = entered(22.0, 36.0)
    slot = next(iter(race.slots))
    race.raise_to([slot], 16)
    race.find_headroom()
    key = race.best_of(slot).key
    units = race.field.units_of(key)
    assert [headroom_of(race.field.judged[unit], (True,))[0].size for unit in units] == [COUNTS[0]]
    for _ in range(2):
        race.look_closer([key], 16)
        assert [headroom_of(race.field.judged[unit], (True,))[0].size for unit in units] == [16]
        assert race.record(key).headroom_exact
        race.find_headroom()


@pytest.mark.parametrize(("low_c", "high_c", "side"), [(22.0, 34.0, "warmer"), (-14.0, -8.0, "colder")])
def test_headroom_is_used_up_the_way_the_weather_leans(low_c: float, high_c: float, side: str) -> None:
    """Bees near boiling have less to spare upwards, a small nucleus in frost downwards."""
    race = entered(low_c, high_c, replace(NUC, frames_of_bees=2.0) if side == "colder" else NUC)
    best = race.candidates()[0]
    race.look_closer([best.key])
    assert race.record(best.key, close=True).headroom_side == side


def test_the_first_look_is_long_in_step_and_taken_anew_for_who_goes_on() -> None:
    """So that all samples of who goes on are walked alike, as if they had been asked for at once."""
    race = entered(22.0, 36.0)
    slot = next(iter(race.slots))
    units = [unit for key in race.slots[slot] for unit in race.field.units_of(key)]
    first = {unit: race.field.judged[unit].kept for unit in units}
    assert {race.field.judged[unit].step_s for unit in units} == {FIRST_STEP_S}
    race.find_headroom()
    race.raise_to([slot], 2 * FIRST_LOOK)
    for unit in units:
        judged = race.field.judged[unit]
        assert (judged.step_s, judged.samples) == (STEP_S, 2 * FIRST_LOOK)
        assert judged.shifted, "headroom is kept"
        assert not np.array_equal(judged.kept[:, :, :FIRST_LOOK], first[unit])
    at_once = entered(22.0, 36.0)
    at_once.field.judged.clear()
    at_once.field.judge(race.slots[slot], 2 * FIRST_LOOK)
    for unit in units:
        np.testing.assert_array_equal(race.field.judged[unit].kept, at_once.field.judged[unit].kept)


@pytest.mark.parametrize(
    ("first", "second", "sure"),
    [("11111110", "00000000", True), ("11111100", "00000000", False), ("00000000", "11111111", False)],
)
def test_more_harm_is_sure_beyond_chance_in_the_same_samples(first: str, second: str, sure: bool) -> None:
    """Of seven samples that differ all falling one way are 2.6 deviations, of six 2.4."""
    harmed = (np.array([each == "1" for each in row]) for row in (first, second))
    assert surely_more(*harmed) is sure


def test_the_window_is_judged_outwards_as_far_as_departures_are_alike() -> None:
    """Hour after hour into a hot day: what comes long after the first that is not alike is left in the first look."""
    dawn = NIGHT - 17.0 * HOUR_S
    planned = tiny(NUC, leave_s=dawn, departures=12)
    sky = weather(14.0, 38.0, dawn - dawn % DAY_S - DAY_S)
    laid = opened(planned, road(1.0, 60.0, waypoints=2), sky, catalogue(), counts=COUNTS)
    race = laid.race
    race.enter(slots_of(race.field))
    best = next(one for one in race.candidates() if one.key.departure == 0 and not any(one.key.setups))
    race.field.judge([best.key], COUNTS[-1])
    race.beside(race.record(best.key))
    met = {slot.departure: race.best_of(slot).samples for slot in race.slots if not any(slot.setups)}
    assert met[1] == COUNTS[-1]
    assert met[11] == COUNTS[0]


def test_of_several_ways_those_that_surely_do_more_harm_are_dropped() -> None:
    """The least harmful stays, whatever the others do."""
    race = entered(26.0, 40.0)
    slots = list(race.slots)
    race.raise_to(slots, COUNTS[-1])
    left = _may_be_least(race, slots)
    least = min(slots, key=lambda slot: race.best_of(slot).harm_of_100.value)  # type: ignore[union-attr]
    assert least in left
    assert _may_be_least(race, [least, least]) == [least, least]


class Told(Race):
    """A race whose slots are harmed in a share of the samples that is said, judged in as many as are said."""

    def __init__(self, field: Field, shares: dict[int, float], samples: dict[int, int], day: int) -> None:
        super().__init__(field, USUAL, lambda _: "", [()] * 9, counts=(8, 32, 128, 512, 1024))
        self.boxes = BOXES
        self.shares, self.met, self.day = shares, dict(samples), day
        self.slots = {Slot(departure, 0, (0,)): [] for departure in shares}

    def best_of(self, slot: Slot) -> Candidate:
        at, count = slot.departure, self.met[slot.departure]
        return made(round(self.shares[at] * count), count, departure=at, home=0.05 if at == self.day else 1.0)

    def order_of(self, slot: Slot) -> tuple[float, ...]:
        return order(self.best_of(slot), self.boxes)

    def ranked(self) -> list[Slot]:
        return sorted(self.slots, key=self.order_of)

    def raise_to(self, slots: Iterable[Slot], count: int) -> None:
        self.met |= {slot.departure: count for slot in slots}
        self.field.looks += 1  # as judging does: an order that is kept has had its day


def test_who_leaves_the_flyers_behind_does_not_lead_for_want_of_samples(race: Race) -> None:
    """Two hours as harmless as each other: by day the first of them was judged on by luck, the evening was not."""
    told = Told(race.field, {0: 0.027, 1: 0.031}, {0: 1024, 1: 128}, day=0)
    assert [one.standing for one in told.candidates()] == ["within", "open"]
    told.settle_open()
    assert told.candidates()[0].key.departure == 1
    assert told.met == {0: 1024, 1: 512}


def test_who_leaves_nobody_behind_ends_the_race(race: Race) -> None:
    told = Told(race.field, {0: 0.027, 1: 0.031}, {0: 1024, 1: 128}, day=1)
    told.settle_open()
    assert told.met == {0: 1024, 1: 128}


def test_one_harm_in_eight_samples_drops_no_start_that_keeps_the_wishes(race: Race) -> None:
    """12 of 100 are more than the 10 accepted, but known to be 1 to 47: it is judged on, and does."""

    class Unlucky(Told):
        def best_of(self, slot: Slot) -> Candidate:
            few = slot.departure == 1 and self.met[1] == 8
            return made(1, 8, departure=1) if few else super().best_of(slot)

    told = Unlucky(race.field, {0: 0.027, 1: 0.031}, {0: 1024, 1: 8}, day=0)
    told.settle_open()
    assert told.candidates()[0].key.departure == 1


def test_few_samples_do_not_part_departures_that_are_one_answer(race: Race) -> None:
    """4 of 128 leave 7 of 100 open; judged on, the hour beside the best is as harmless as it."""
    told = Told(race.field, {0: 0.027, 1: 0.031, 2: 0.2}, {0: 1024, 1: 8, 2: 8}, day=9)
    told.beside(told.candidates()[0])
    assert told.met == {0: 1024, 1: 512, 2: 128}
    assert alike(*(one for one in told.candidates() if one.key.departure < 2))


def test_none_shows_less_harm_than_the_best_for_want_of_samples(race: Race) -> None:
    """Even the best start, 21 of 100 (19 to 24), stood above a row of 18 (12 to 25): who seems to do less goes on."""
    told = Told(race.field, {0: 0.21, 1: 0.18, 2: 0.3}, {0: 1024, 1: 128, 2: 128}, day=9)
    assert [one.key.departure for one in told.candidates()] == [0, 1, 2]
    told.settle_least()
    assert told.met == {0: 1024, 1: 512, 2: 128}, "until it leads; who leads is judged in all samples anyhow"
    assert [one.key.departure for one in told.candidates()] == [1, 0, 2]
    calm = Told(race.field, {0: 0.03, 1: 0.02}, {0: 1024, 1: 128}, day=9)
    calm.settle_least()
    assert calm.met[1] == 128, "within what is accepted other things count"


def test_fewer_hours_shut_are_not_lost_to_a_wider_interval(race: Race) -> None:
    """2.5 of 100 in 1,024 samples and in 512: as well known, the second is as harmless, and shut for less."""

    class Shut(Told):
        def best_of(self, slot: Slot) -> Candidate:
            one = super().best_of(slot)
            return replace(one, open_s=one.shut_s + (9.0, 5.0, 9.0)[slot.departure] * HOUR_S)

    told = Shut(race.field, {0: 0.025, 1: 0.025, 2: 0.025}, {0: 1024, 1: 512, 2: 512}, day=9)
    assert [one.standing for one in told.candidates()] == ["within"] * 3
    assert told.candidates()[0].key.departure == 0
    told.settle_least()
    assert told.candidates()[0].key.departure == 1
    assert told.met[2] == 512, "who would not lead is left alone"


def test_a_lone_group_may_need_a_set_up_and_another_place() -> None:
    """Floors shut with propolis in a shut canopy: neither a roof screen nor the open bed alone is enough, both are."""
    shut_in = replace(NUC, count=20, floor_blocked_share=1.0, entrance="shut")
    planned = tiny(shut_in, "pickup_canopy_shut_dark", leave_s=NIGHT - 14.0 * HOUR_S, departures=1)
    sky = weather(8.0, 20.0, NIGHT - NIGHT % DAY_S - DAY_S)
    laid = opened(planned, road(4.0, 75.0), sky, catalogue(), counts=(*COUNTS, 192))
    laid.race.enter(slots_of(laid.race.field))
    try_otherwise(laid.race)
    best = laid.race.candidates()[0]
    assert best.standing == "within"
    assert best.key.setups != (0,)
    assert best.key.arrangement != 0
    best = laid.race.lead()
    untouched = next(one for one in laid.race.candidates() if one.setup == "as_declared")
    assert untouched.samples == best.samples, (
        "the best of those whose boxes are as declared is held against it"
    )


def test_floors_nobody_looked_at_are_judged_as_the_same_start_with_them_shut() -> None:
    """Oracle: the load declared with floors gummed shut, in the same samples. A solid floor has nothing to look at."""
    race = entered(10.0, 18.0)
    key = next(race.best_of(slot).key for slot in race.slots if not any(slot.setups))
    race.field.judge([key], COUNTS[-1])
    best = race.record(key)
    found = floors_shut(race, best)
    assert found is not None
    assert found.harm_of_100 is not None
    assert best.harm_of_100 is not None
    trip = race.field.trip
    shut = replace(trip, groups=(replace(trip.groups[0], floor_blocked_share=1.0),))
    other = opened(shut, race.field.road, race.field.weathers[0], catalogue(), counts=COUNTS).race
    same = replace(best.key, setups=(0,))
    other.field.judge([same], COUNTS[-1])
    assert found.harm_of_100 == other.record(same).harm_of_100
    assert found.harm_of_100.low > best.harm_of_100.high
    assert found.by_group[0].closing == best.by_group[0].closing
    bare = replace(trip, groups=(replace(trip.groups[0], floor="solid"),))
    plain = opened(bare, race.field.road, race.field.weathers[0], catalogue(), counts=COUNTS).race
    plain.enter(slots_of(plain.field))
    assert floors_shut(plain, plain.candidates()[0]) is None


def lorry(low_c: float, high_c: float) -> Race:
    """Doubles in three rows of a lorry, on the road for a night."""
    rows = {"outer_shade_windward": 16, "inner": 16, "front_inner": 4}
    doubles = [
        replace(
            HIVE,
            label=row,
            count=count,
            frames_of_bees=15.0,
            floor="solid",
            entrance="open",
            loading_place=f"flatbed_{row}",
        )
        for row, count in rows.items()
    ]
    planned = tiny(doubles, "flatbed_inner", leave_s=NIGHT, departures=1)
    sky = weather(low_c, high_c, NIGHT - NIGHT % DAY_S - DAY_S)
    race = opened(planned, road(7.0, 75.0), sky, catalogue(), counts=COUNTS).race
    race.enter(slots_of(race.field))
    race.raise_to(list(race.slots), COUNTS[-1])
    return race


def test_a_load_set_up_alike_is_tried_in_other_places_where_single_groups_are_not_enough() -> None:
    """Roof screens on all rows alone left it open, and no row was moved then."""
    race = lorry(19.0, 32.0)
    assert not race.any_within()
    try_otherwise(race)
    best = race.candidates()[0]
    assert best.standing == "within"
    assert best.setup == "roof_screen"
    assert best.changes == 3, "one set-up, and two rows that ride in another"


def test_each_place_is_told_with_the_boxes_as_they_are_too() -> None:
    """Rows that are set up first and then moved into one place had nothing to be held against there."""
    race = lorry(24.0, 40.0)
    try_otherwise(race)
    in_one = {row for row, places in enumerate(race.field.arrangements) if len(set(places)) == 1}
    changed, plain = (
        {slot.arrangement for slot in race.slots if any(slot.setups) == otherwise}
        for otherwise in (True, False)
    )
    assert changed & in_one
    assert changed & in_one <= plain


def test_where_no_closing_is_fixed_none_is_freed() -> None:
    """The same load would stand in the answer twice."""
    race = lorry(24.0, 40.0)
    assert not race.any_within()
    try_otherwise(race)
    assert not any(slot.freed for slot in race.slots)
    keys = [one.key for one in race.candidates()]
    assert len(keys) == len(set(keys))


def three_groups() -> Race:
    """A weak, a middling and a strong group on a hot day, each with its own number of boxes."""
    groups = [
        replace(NUC, label="weak", frames_of_bees=2.0, count=5),
        replace(NUC, label="middling", frames_of_bees=4.0, count=1),
        replace(NUC, label="strong", frames_of_bees=6.0, count=2),
    ]
    dawn = NIGHT - 10.0 * HOUR_S
    planned = tiny(groups, leave_s=dawn, departures=1)
    sky = weather(20.0, 36.0, dawn - dawn % DAY_S - DAY_S)
    race = opened(planned, road(2.0, 60.0, waypoints=2), sky, catalogue(), counts=COUNTS).race
    race.enter(slots_of(race.field))
    return race


def test_the_two_groups_that_are_harmed_most_are_changed_first() -> None:
    race = three_groups()
    slot = next(slot for slot in race.slots if not any(slot.setups))
    race.raise_to([slot], COUNTS[-1])
    groups = race.record(race.best_of(slot).key, close=True).groups
    harms = [one.harm_of_100["any"].value for one in groups if one.harm_of_100["any"] is not None]
    least = min(range(3), key=harms.__getitem__)
    assert 0.0 < harms[least] < sorted(harms)[1], harms
    changed = {g for way in _ways(race, slot) for g, setup in enumerate(way.setups) if setup}
    assert changed == {0, 1, 2} - {least}


def test_a_group_that_is_never_harmed_is_not_changed() -> None:
    race = three_groups()
    slot = next(slot for slot in race.slots if not any(slot.setups))
    race.raise_to([slot], COUNTS[-1])
    for unit in race.field.units_of(race.best_of(slot).key):
        if unit.parts[0].group:
            race.field.judged[unit].level[:] = 0
    assert {g for way in _ways(race, slot) for g, setup in enumerate(way.setups) if setup} == {0}


def test_boxes_expected_harmed_are_those_of_each_group_by_its_number() -> None:
    """Oracle: what is told of each group. Groups of one, two and five boxes are not a third each."""
    race = three_groups()
    slot = next(slot for slot in race.slots if not any(slot.setups))
    race.raise_to([slot], COUNTS[-1])
    one = race.record(race.best_of(slot).key, close=True)
    assert one.boxes_harmed_expected is not None
    parts = [(each.count, each.harm_of_100["any"].value) for each in one.groups if each.harm_of_100["any"]]
    by_number = sum(count * share / 100.0 for count, share in parts)
    alike = sum(share / 100.0 for _, share in parts) * 8.0 / 3.0
    assert one.boxes_harmed_expected.value == pytest.approx(by_number, abs=0.005)
    assert abs(by_number - alike) > 0.1, parts


def test_changes_are_counted_by_what_the_user_has_settled() -> None:
    """Each pin that is moved, each other place and each set-up once, however many groups ride or have it."""
    own, other = "pickup_canopy_shut_dark", "pickup_bed"
    groups = [replace(NUC, label="pinned", loading_place=own), NUC, replace(NUC, label="third")]
    planned = tiny(groups, own, leave_s=NIGHT, departures=1)
    sky = weather(14.0, 26.0, NIGHT - NIGHT % DAY_S - DAY_S)
    field = opened(planned, road(1.0, 60.0, waypoints=2), sky, catalogue(), counts=COUNTS).race.field

    def counted(places: tuple[str, ...], setups: tuple[int, ...]) -> int:
        row = field.add_arrangement(places)
        return _changes(field, Key(0, row, setups, field.closings.declared), declared_places(field))

    assert counted((own, own, own), (0, 0, 0)) == 0
    assert counted((other, own, own), (0, 0, 0)) == 1
    assert counted((own, other, other), (0, 0, 0)) == 1
    assert counted((own, own, own), (1, 1, 0)) == 1
    assert counted((own, own, own), (1, 2, 0)) == 2
    assert counted((other, other, own), (1, 1, 1)) == 3


def test_a_closing_fixed_for_the_whole_trip_is_one_change_however_many_groups_another_rule_shuts() -> None:
    own = Closing("after_sunset", 1200.0, fixed=True)
    groups = [NUC, replace(NUC, label="second"), replace(NUC, label="own", closing=own)]
    planned = tiny(groups, leave_s=NIGHT, departures=1, closing=Closing("before_sunrise", fixed=True))
    sky = weather(14.0, 26.0, NIGHT - NIGHT % DAY_S - DAY_S)
    field = opened(planned, road(1.0, 60.0, waypoints=2), sky, catalogue(), counts=COUNTS).race.field
    dawn, evening = (field.closings.rules.index(rule) for rule in ("before_sunrise", "after_sunset"))
    late = field.closings.rules.index("at_loading")

    def counted(*closings: int) -> int:
        return _changes(field, Key(0, 0, (0, 0, 0), closings), declared_places(field))

    assert counted(dawn, dawn, evening) == 0
    assert counted(late, dawn, evening) == counted(late, late, evening) == 1
    assert counted(late, evening, evening) == 2
    assert counted(late, late, late) == 2


def by_the_minute() -> Race:
    """Nine starts within eight minutes."""
    planned = tiny(NUC, leave_s=NIGHT, departures=1)
    planned = replace(planned, window=replace(planned.window, last_s=NIGHT + 480.0, step_s=60.0))
    sky = weather(14.0, 26.0, NIGHT - NIGHT % DAY_S - DAY_S)
    return opened(planned, road(1.0, 60.0, waypoints=2), sky, catalogue(), counts=COUNTS).race


def test_where_starts_are_very_many_those_between_are_entered_as_declared(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Every start is judged, in every way on each fourth; what is judged between is judged as if it were alone."""
    plain = by_the_minute()
    plain.enter_all(slots_of(plain.field))
    assert plain.stride == 1
    assert set(plain.slots) == set(slots_of(plain.field))
    monkeypatch.setattr("planner.app.answer.race.MOST_SLOTS", len(plain.slots) / 4.0)
    coarse = by_the_minute()
    coarse.enter_all(slots_of(coarse.field))
    assert coarse.stride == 4
    assert {slot.departure for slot in coarse.slots if any(slot.setups)} == {0, 4, 8}
    assert {slot.departure for slot in coarse.slots if not any(slot.setups)} == set(range(9))
    assert all(coarse.slots[slot] == plain.slots[slot] for slot in coarse.slots if slot.departure % 4 == 0)
    for slot in coarse.slots:
        for key in coarse.slots[slot]:
            for unit in coarse.field.units_of(key):
                np.testing.assert_array_equal(coarse.field.judged[unit].level, plain.field.judged[unit].level)
    changed = next(slot for slot in coarse.slots if any(slot.setups) and slot.departure == 4)
    coarse.beside(coarse.best_of(changed))
    assert {slot.departure for slot in coarse.slots if slot.setups == changed.setups} == set(range(9))


def test_starts_half_an_hour_apart_are_never_thinned(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.app.answer.race.MOST_SLOTS", 1)
    race = entered()
    assert race._stride_of(list(race.slots)) == 1


def test_departures_outside_the_window_lie_within_the_weather_in_hand() -> None:
    """The first box is shut after the weather begins, the last one opened before it ends; nobody leaves in the past."""
    planned = tiny(leave_s=NIGHT, departures=1)
    sky = weather(14.0, 26.0, NIGHT - DAY_S, days=2)
    end_s, begin_s = float(sky.time_s[-1]), float(sky.time_s[0])

    def leaves(now_s: float | None = None) -> np.ndarray:
        return np.concatenate(outside(planned, sky, 5.0 * HOUR_S, 3.0 * HOUR_S, now_s))

    found = leaves()
    assert found.max() <= end_s - 5.0 * HOUR_S < found.max() + HOUR_S
    assert found.min() >= begin_s + 3.0 * HOUR_S > found.min() - HOUR_S
    assert NIGHT not in found
    assert leaves(NIGHT).min() > NIGHT
