"""Two candidates in the same samples, and the answer of now against the answer kept of the last time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.app.answer.ask import Asked, slots_of
from planner.app.answer.race import surely_more
from planner.app.answer.records import Answer, Candidate, Comparison, Key
from planner.app.answer.tally import any_harmed, fates_of
from planner.app.answer.words import Words
from planner.app.plan.recheck import Kept, Snapshot, weather_means
from planner.model.compare import ENOUGH_HEADROOM_K, HEADROOM_STEP_K
from planner.model.limits import HARM
from planner.model.records import Floats
from planner.units import METRIC, UnitSystem

COMPARED_SAMPLES = 512
HARM_SCORE, LATEST_HARM_H = -100.0, 48.0

# -- two candidates --------------------------------------------------------------------------------


def compared(asked: Asked, first: Key, second: Key, *, units: UnitSystem = METRIC) -> Comparison:
    """Two candidates sample by sample, in one sentence of verdict."""
    count = min(COMPARED_SAMPLES, asked.race.counts[-1])
    asked.race.field.judge([first, second], count)
    a, b = asked.look(first), asked.look(second)
    one, two = scores(asked, first), scores(asked, second)
    met = min(one.size, two.size)  # the samples that both were judged in
    gain = one[:met] - two[:met]
    gain = gain[~np.isnan(gain)]
    total = max(gain.size, 1)
    wins, losses = (int((sign * gain >= HEADROOM_STEP_K).sum()) for sign in (1.0, -1.0))
    better, alike, worse = (round(100.0 * n / total, 1) for n in (wins, total - wins - losses, losses))
    harmed = [any_harmed(fates_of(asked.race.field, key))[:met] for key in (first, second)]
    less_harm = int(surely_more(*reversed(harmed))) - int(surely_more(*harmed))
    found = Comparison(a, b, better, alike, worse, int(gain.size), less_harm=less_harm)
    words = Words(asked.answer(finished=True), asked.catalogue, units)
    return replace(found, sentence=words.compared(found))


def judged_alone(asked: Asked) -> Answer:
    """The answer to a trip laid out for a few departures alone: nothing else is looked for."""
    race = asked.race
    race.enter(slots_of(race.field))
    for _ in race.rounds():
        pass
    return asked.answer(finished=True)


def scores(asked: Asked, key: Key) -> Floats:
    """How good each sample turned out, (sample,): harm far below none, the later the better, then headroom."""
    fates = fates_of(asked.race.field, key)
    spare = np.minimum(fates.kept("hotter_k"), fates.kept("colder_k")).min(axis=0)
    first_h = np.where(fates.harmed, np.nan_to_num(fates.harm_h), np.inf).min(axis=0)
    harmed = fates.harmed.any(axis=0)
    harm = HARM_SCORE + np.minimum(first_h, LATEST_HARM_H)
    score = np.where(harmed, harm, np.minimum(spare, ENOUGH_HEADROOM_K))
    return np.where(fates.level.max(axis=(0, 2)) > HARM, np.nan, score)


# -- the last answer and this one ------------------------------------------------------------------


def snapshot(found: Answer, now_s: float) -> Snapshot:
    """What to keep of an answer for the next comparison."""
    assert found.trip is not None
    assert found.road is not None
    assert found.weather is not None
    departures = np.array(found.departures_s)
    first = {one.leave_s: one.shut_s for one in reversed(found.candidates)}
    closed = np.array([first.get(leave, leave) for leave in found.departures_s])
    return Snapshot(
        made_s=now_s,
        rows=tuple(_kept(found, one) for one in found.candidates),
        departures_s=departures,
        weather=weather_means(found.trip, found.road, found.weather, departures, closed),
        source=found.weather.source,
    )


def _kept(found: Answer, one: Candidate) -> Kept:
    return Kept(
        one.leave_s,
        found.place_of(one),
        one.setup,
        one.headroom_k.p50 if one.headroom_k else None,
        one.harm_of_100.value if one.harm_of_100 else None,
    )
