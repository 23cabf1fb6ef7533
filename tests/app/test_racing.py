"""The race of the one answer: records follow what is judged, closings are settled, headroom is read coarsely."""

from __future__ import annotations

import numpy as np
import pytest

from planner.app.answer.ask import opened, slots_of
from planner.app.answer.field import FIRST_LOOK, FIRST_STEP_S
from planner.app.answer.otherwise import _may_be_least
from planner.app.answer.race import COARSE_STEP_S, Race, surely_more
from planner.app.chance.samples import STEP_S
from planner.app.chance.units import SHIFTS_K, headroom_of
from planner.model.compare import HEADROOM_STEP_K
from tests.app.answered import NIGHT, tiny
from tests.model.scenarios import DAY_S, HOUR_S, NUC, catalogue, road, weather

COUNTS = (8, 16, 128)


def entered(low_c: float = 14.0, high_c: float = 26.0) -> Race:
    """A morning's departures of one group, with several closings to choose from, in the first samples."""
    dawn = NIGHT - 14.0 * HOUR_S
    planned = tiny(NUC, leave_s=dawn, departures=2)
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
    """To less than the step of headroom that the model can tell apart, on a day on which harm is near."""
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
    apart = [abs(a.p5 - b.p5) for a, b in zip(coarse, fine, strict=True) if a and b]
    assert 0.0 < max(apart) < HEADROOM_STEP_K


@pytest.mark.parametrize(("low_c", "high_c"), [(22.0, 36.0), (-9.0, 1.0)])
def test_headroom_is_the_same_where_only_shifts_that_matter_are_tried(low_c: float, high_c: float) -> None:
    """Oracle: every shift tried in every sample, on a day on which heat does harm and on a frosty one."""
    race = entered(low_c, high_c)
    field = race.field
    keys = [race.best_of(slot).key for slot in race.slots]
    units = [unit for key in keys for unit in field.units_of(key)]
    race.find_headroom()
    some = [headroom_of(field.judged[unit], field.counted(unit))[0] for unit in units]
    tried = [np.isfinite(table).mean() for unit in units for table in field.judged[unit].shifted.values()]
    for unit in units:
        field.judged[unit].shifted.clear()
        field.judged[unit].headroom.clear()
    field._matters = lambda *_: None  # type: ignore[method-assign]
    race.find_headroom()
    every = [headroom_of(field.judged[unit], field.counted(unit))[0] for unit in units]
    np.testing.assert_array_equal(some, every)
    assert np.mean(tried) < 0.95


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
