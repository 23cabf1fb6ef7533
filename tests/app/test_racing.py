"""The race of the one answer: records follow what is judged, closings are settled, headroom is read coarsely."""

from __future__ import annotations

import pytest

from planner.app.answer.ask import opened, slots_of
from planner.app.answer.race import COARSE_STEP_S, Race
from planner.app.chance.samples import STEP_S
from planner.app.chance.units import SHIFTS_K
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
