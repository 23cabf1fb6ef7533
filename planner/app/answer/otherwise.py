"""The other ways: which groups need what, another closing or place, another departure outside the window."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from planner.app.answer.field import Field
from planner.app.answer.race import Race, Slot, surely_more
from planner.app.answer.records import Candidate
from planner.app.answer.tally import any_harmed, candidate_of, fates_of
from planner.app.plan.room import space_of
from planner.model.preparations import AS_DECLARED, BATTENS, stands_flat
from planner.model.records import Floats, Trip, Weather

STARTS, LIKELY = 4, 12
"""Departures and places from which other ways are looked for: those that do least harm as declared, of so many."""

TRIAL_SAMPLES = 128
MOST_DAYS_S = 7 * 86_400.0
"""How far outside the window another departure is looked for."""

OUTSIDE_STEP_S = 3600.0


# -- other set-ups, closings, places ---------------------------------------------------------------


def try_otherwise(race: Race) -> None:
    """Enter into the race what may help where the load as declared does not: fewest changes first, group by group.

    At each step the group that is harmed most is changed in the way that helps most, from all starts at once; and where
    the user has fixed a closing and that is not enough, the same from loads whose closing is freed, for a later one may
    do only together with another place or set-up. Where that brings none within the tolerance, the least harmful of all
    is changed on: most often the whole load set up alike, which single steps in the order of what helps most need not
    reach.
    """
    fixed = any(race.field.closings.fixed)
    starts = _starts(race)
    _trial(race, [replace(slot, freed=True) for slot in starts if fixed], ())
    _change_on(race, starts)
    if fixed and not race.any_within():
        _change_on(race, _freed_starts(race))
    if not race.any_within():
        _change_on(race, _least_harmful_of_all(race))
    race.enter(_as_declared(race))


def _change_on(race: Race, starts: Sequence[Slot]) -> None:
    """Change one group more at each step, from all starts at once, as long as that does less harm.

    One step more than there are groups, so that a lone group too may need both a set-up and another place.
    """
    active = list(starts)
    for _ in range(race.field.groups + 1):
        active = [slot for slot in active if _crowded(race, slot) or not race.settled(slot)]
        ways = {slot: _ways(race, slot) for slot in active}
        _trial(race, (), ways.values())
        active = [better for slot in active if (better := _better(race, slot, ways[slot])) is not None]


def _least_harmful_of_all(race: Race) -> list[Slot]:
    """The slot that does least harm of those that find room, however it is set up; none where none does."""
    roomy = (slot for slot in race.ranked() if not _crowded(race, slot))
    return [slot for slot in roomy if race.best_of(slot).harm_of_100 is not None][:1]


def _as_declared(race: Race) -> list[Slot]:
    """The boxes as they are, wherever all of them were tried in one place set up otherwise: it is told beside."""
    in_one = [row for row, places in enumerate(race.field.arrangements) if len(set(places)) == 1]
    none = (0,) * race.field.groups
    return [
        replace(slot, setups=none, freed=False)
        for slot in race.slots
        if slot.arrangement in in_one and any(slot.setups)
    ]


def _starts(race: Race) -> list[Slot]:
    """Slots as declared that do least harm, one for each departure."""
    return _looked_at(race, [slot for slot in race.slots if not any(slot.setups) and not slot.freed])


def _freed_starts(race: Race) -> list[Slot]:
    """The same with closings freed: where the place is right for one closing another may be for a later one."""
    plain = [slot for slot in race.slots if not any(slot.setups) and slot.departure % race.stride == 0]
    freed = list(dict.fromkeys(replace(slot, freed=True) for slot in plain))
    race.enter(freed)
    return _looked_at(race, freed)


def _looked_at(race: Race, slots: Sequence[Slot]) -> list[Slot]:
    """Those that do least harm; those that seem so are looked at more closely."""
    likely = _least_harmful(race, slots, LIKELY)
    race.raise_to(likely, min(TRIAL_SAMPLES, race.counts[-1]))
    return _least_harmful(race, likely, STARTS)


def _least_harmful(race: Race, slots: Iterable[Slot], most: int) -> list[Slot]:
    """The least harmful slot of each departure, the best ones; those that find no room where none does."""
    known = [slot for slot in slots if race.best_of(slot).harm_of_100 is not None]
    roomy = [slot for slot in known if not _crowded(race, slot)]
    found: dict[int, Slot] = {}
    for slot in sorted(roomy or known, key=race.order_of):
        found.setdefault(slot.departure, slot)
    return list(found.values())[:most]


def _crowded(race: Race, slot: Slot) -> bool:
    """Whether the boxes find no room where a slot puts them."""
    return bool(race.room(race.field.arrangements[slot.arrangement]))


def _ways(race: Race, slot: Slot) -> list[Slot]:
    """The slot with one of the two groups that are harmed most set up or placed otherwise; or put where it has room."""
    if _crowded(race, slot):
        return [way for way in _elsewhere(race, slot) if not _crowded(race, way)]
    harmed = fates_of(race.field, race.best_of(slot).key).harmed.sum(axis=1)
    ways = [way for g in np.argsort(-harmed)[:2] if harmed[g] for way in _changed(race, slot, int(g))]
    return [way for way in dict.fromkeys(ways) if not _crowded(race, way)]


def _better(race: Race, slot: Slot, ways: Sequence[Slot]) -> Slot | None:
    """The way that leaves least harm, with least work; None where none is better than the slot itself.

    Any that finds room is better than one that does not.
    """
    if not ways:
        return None
    best = min(ways, key=lambda way: (_harmed(race, way), race.best_of(way).work))
    return best if _crowded(race, slot) or _harmed(race, best) < _harmed(race, slot) else None


def _harmed(race: Race, slot: Slot) -> float:
    """Share of samples with a box harmed."""
    return float(any_harmed(fates_of(race.field, race.best_of(slot).key)).mean())


def _changed(race: Race, slot: Slot, group: int) -> Iterator[Slot]:
    """The slot with one group set up or placed otherwise; a space has one state: who rides in it changes along."""
    field = race.field
    places = [field.places[place] for place in field.arrangements[slot.arrangement]]
    flat = stands_flat(field.trip.groups[group].stand, field.catalogue.loading_places[places[group]])
    for setup in range(1, len(field.setups)):
        if field.setups[setup] is BATTENS and not flat:
            continue
        if field.alters(setup, group) and setup != slot.setups[group]:
            yield replace(slot, setups=_with(slot.setups, group, setup))
    for name in field.places:
        if name != places[group]:
            same = space_of(field.catalogue, name)
            moved = tuple(
                name if g == group or space_of(field.catalogue, place) == same else place
                for g, place in enumerate(places)
            )
            yield replace(slot, arrangement=field.add_arrangement(moved))


def _elsewhere(race: Race, slot: Slot) -> Iterator[Slot]:
    """The slot with all groups that are pinned nowhere in one other place of the vehicles, or one of them."""
    field = race.field
    pinned = [group.loading_place for group in field.trip.groups]
    for name in field.places:
        yield replace(slot, arrangement=field.add_arrangement(tuple(pin or name for pin in pinned)))
    for group, pin in enumerate(pinned):
        if pin is None:
            yield from (way for way in _changed(race, slot, group) if way.setups == slot.setups)


def _with(values: Sequence[object], at: int, value: object) -> tuple:  # type: ignore[type-arg]
    return (*values[:at], value, *values[at + 1 :])


def _trial(race: Race, alone: Iterable[Slot], ways: Iterable[Sequence[Slot]]) -> None:
    """Judge slots by themselves, and of several ways on from one slot those that may be the least harmful one.

    A way that does more harm than the least harmful in the samples they share, beyond chance, is judged no further.
    """
    left = [[slot] for slot in alone] + [list(each) for each in ways if each]
    race.enter([slot for each in left for slot in each])
    for count in race.counts:
        race.raise_to([slot for each in left for slot in each], count)
        if count >= TRIAL_SAMPLES:
            break
        left = [_may_be_least(race, each) for each in left]


def _may_be_least(race: Race, slots: Sequence[Slot]) -> list[Slot]:
    """The slots that do no more harm than the least harmful of them, as far as their samples tell."""
    harmed = [any_harmed(fates_of(race.field, race.best_of(slot).key)) for slot in slots]
    count = min(each.size for each in harmed)
    least = min(harmed, key=lambda each: int(each[:count].sum()))
    return [
        slot for slot, each in zip(slots, harmed, strict=True) if not surely_more(each[:count], least[:count])
    ]


# -- outside the window ----------------------------------------------------------------------------


def outside(
    trip: Trip, weather: Weather, lasts_s: float, shut_before_s: float, now_s: float | None
) -> list[Floats]:
    """Departures outside the window, nearest first, a day's worth at a time, as far as the weather in hand reaches.

    Parameters
    ----------
    lasts_s, shut_before_s : from a departure to the last box opened, and from the first box shut to the departure
    now_s : the present, before which nobody leaves
    """
    window = trip.window
    step = max(window.step_s, OUTSIDE_STEP_S)
    known = ~np.isnan(weather.air_c).any(axis=1)
    if not known.any():
        return []
    first = float(weather.time_s[known][0]) + shut_before_s
    last = float(weather.time_s[known][-1]) - lasts_s
    if now_s is not None:
        first = max(first, now_s)
    out = []
    for day in range(int(MOST_DAYS_S // 86_400.0)):
        ahead = window.last_s + step + day * 86_400.0 + np.arange(0.0, 86_400.0, step)
        back = window.first_s - step - day * 86_400.0 - np.arange(0.0, 86_400.0, step)
        for part in (ahead, back):
            inside = part[(part >= first) & (part <= last)]
            if inside.size:
                out.append(np.sort(inside))
    return out


def nearest(candidates: Sequence[Candidate], trip: Trip) -> Candidate | None:
    """The departure nearest to the window that is within the tolerance as declared."""
    fit = [one for one in candidates if one.standing == "within" and one.fits and not one.changes]

    def away_s(one: Candidate) -> float:
        return max(trip.window.first_s - one.leave_s, one.leave_s - trip.window.last_s)

    return min(fit, key=away_s, default=None)


# -- what was not looked at ------------------------------------------------------------------------


def floors_shut(race: Race, best: Candidate) -> Candidate | None:
    """The best candidate were every floor mesh shut with propolis; None where no box stands on an open one.

    The same departure, places, set-ups, closings and samples: so many harmed is what a look at each floor is for.
    """
    field, key = race.field, best.key
    groups = zip(field.trip.groups, key.setups, strict=True)
    ready = [
        field.setups[row].change(group, field.catalogue.box_types[group.box_type]) for group, row in groups
    ]
    if not any(group.floor == "mesh" and group.floor_blocked_share < 1.0 for group in ready):
        return None
    shut = tuple(
        replace(group, floor_blocked_share=1.0) if group.floor == "mesh" else group for group in ready
    )
    there = Field(
        replace(field.trip, groups=shut), field.road, field.weathers, field.catalogue, field.departures_s,
        field.closings, [tuple(field.places[row] for row in field.arrangements[key.arrangement])],
        (AS_DECLARED,), samples=field.most, seed=field.seed, places=field.places,
    )  # fmt: skip
    same = replace(key, arrangement=0, setups=(0,) * field.groups)
    there.judge([same], min(TRIAL_SAMPLES, race.counts[-1]))
    return candidate_of(there, same, room="", misses=best.misses, close=True)
