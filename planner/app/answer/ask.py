"""Asking for the one answer: a trip laid out, raced in samples, decided and worded, sharper with every round."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np

from planner.app.answer.decide import decision_of, folded, is_declared
from planner.app.answer.field import Field
from planner.app.answer.otherwise import floors_shut, nearest, outside, try_otherwise
from planner.app.answer.race import COUNTS, Race, Slot
from planner.app.answer.records import (
    CANNOT_TELL,
    DO_NOT_GO,
    FATES,
    GO,
    Answer,
    Candidate,
    GroupFate,
    Key,
    MissingName,
    Samples,
    Tolerance,
)
from planner.app.answer.tally import fates_of
from planner.app.chance.sensitivity import LOST_K
from planner.app.chance.words import settling
from planner.app.common.progress import Progress, Stop
from planner.app.plan.breaks import PutIn, lawless, with_breaks
from planner.app.plan.closings import closings_of
from planner.app.plan.notes import crowded, estimated_road, unknown_law
from planner.app.plan.plan import departures_of, missed_by_kind
from planner.app.plan.room import arranged, held_of, room_of, share_out
from planner.errors import Cancelled
from planner.model.catalogue import Catalogue
from planner.model.compare import ENOUGH_HEADROOM_K
from planner.model.preparations import ALL, MISTED, TRIED, SetUp, stands_flat, useful
from planner.model.records import Floats, Road, Trip, Weather
from planner.store.rules import answer_rules

WORTH_HELPING_OF_100, MOST_SETUPS = 1.0, 3
"""Harm worth asking what helps against it, and how many other set-ups are judged as closely as the best candidate."""

DAY_S, ENCLOSED_WARMER_K = 86_400.0, 10.0
"""A day, and how much warmer than outside the air of a space may be, where it is asked if water could help there."""

OnAnswer = Callable[[Answer], None]
SEED = 1


def tolerance_of(
    trip: Trip, harm_of_100: float | None = None, boxes_of_100: float | None = None
) -> Tolerance:
    """The tolerance that counts: the trip's, else the settings' (the arguments), else the program's usual figures."""
    rules = answer_rules()
    said = trip.tolerance
    harm = harm_of_100 if harm_of_100 is not None else rules.harm_of_100
    boxes = boxes_of_100 if boxes_of_100 is not None else rules.boxes_of_100
    in_trip = np.isfinite([said.harm_of_100, said.boxes_of_100])
    if in_trip.any():
        own = (said.harm_of_100 if in_trip[0] else harm, said.boxes_of_100 if in_trip[1] else boxes)
        return Tolerance(float(own[0]), float(own[1]), "trip")
    in_settings = harm_of_100 is not None or boxes_of_100 is not None
    return Tolerance(float(harm), float(boxes), "settings" if in_settings else "default")


@dataclass
class Asked:
    """A trip being answered; ``answer`` says what is known so far, ``look`` fills in one candidate's groups."""

    race: Race
    trip: Trip
    road: Road
    weather: Weather
    catalogue: Catalogue
    seed: int
    breaks: tuple[PutIn, ...]
    notes: tuple[str, ...]
    next: Candidate | None = None
    looked_outside: bool = False
    gummed: Candidate | None = None

    def answer(self, *, finished: bool) -> Answer:
        """The answer by what was judged so far, without its words."""
        race, field = self.race, self.race.field
        ranked = race.candidates()
        decision = decision_of(ranked)
        known = any(one.harm_of_100 is not None for one in ranked)
        if not known:
            return self._unanswered(("weather",))
        best = race.record(ranked[0].key, close=True)
        ranked[0] = best
        listed = tuple(folded(ranked))
        best = listed[0]
        declared = next((one for one in listed if is_declared(one) and one.harm_of_100), None)
        open_ = decision == CANNOT_TELL and finished
        return Answer(
            decision=decision,
            sentence="",
            tolerance=race.tolerance,
            samples=Samples(best.samples, self.seed, finished),
            candidates=listed,
            best=best,
            next=self.next if decision == DO_NOT_GO else None,
            groups=best.groups,
            looked_outside=self.looked_outside,
            gummed=self.gummed if finished else None,
            declared=replace(declared, groups=race.record(declared.key, close=True).groups)
            if declared
            else None,
            settle=tuple(settling(field, spare_k(field, best.key))) if open_ else (),
            notes=self.notes,
            board=_board(listed, field),
            **self._given(),
        )

    def _unanswered(self, missing: tuple[MissingName, ...]) -> Answer:
        found = unanswered(self.trip, missing, self.race.tolerance, self.seed, self.notes)
        return replace(found, **self._given())

    def _given(self) -> dict[str, Any]:
        field = self.race.field
        places = self.trip.loading_places
        return {
            "trip": self.trip,
            "road": self.road,
            "weather": self.weather,
            "departures_s": tuple(float(t) for t in field.departures_s),
            "places": places,
            "place_titles": tuple(self.catalogue.loading_places[name].title for name in places),
            "setups": tuple(setup.name for setup in field.setups),
            "setup_titles": tuple(setup.title for setup in field.setups),
            "breaks": self.breaks,
        }

    def look(self, key: Key) -> Candidate:
        """One candidate with its groups, its headroom found closely."""
        self.race.field.judge([key], self.race.counts[-1])
        self.race.look_closer([key])
        return self.race.record(key, close=True)


def spare_k(field: Field, key: Key) -> Floats:
    """What the worst box has to spare in each sample, (sample,), no farther than counts; NaN where not judged."""
    fates = fates_of(field, key)
    spare = np.minimum(fates.kept("hotter_k"), fates.kept("colder_k")).min(axis=0)
    whole = np.full(len(field.uniform), np.nan)
    whole[: spare.size] = np.clip(spare, LOST_K, 2.0 * ENOUGH_HEADROOM_K)
    return whole


def unanswered(
    trip: Trip,
    missing: tuple[MissingName, ...],
    tolerance: Tolerance,
    seed: int = SEED,
    notes: tuple[str, ...] = (),
) -> Answer:
    """The answer where weather or road is missing: nothing can be told."""
    groups = tuple(
        GroupFate(group.label, group.count, group.loading_place, dict.fromkeys(FATES))
        for group in trip.groups
    )
    return Answer(
        decision="cannot_tell",
        sentence="",
        tolerance=tolerance,
        samples=Samples(0, seed, True),
        candidates=(),
        best=None,
        next=None,
        groups=groups,
        missing=missing,
        notes=notes,
        trip=trip,
    )


def ask(
    trip: Trip,
    road: Road,
    weather: Weather,
    catalogue: Catalogue,
    *,
    tolerance: Tolerance | None = None,
    now_s: float | None = None,
    seed: int = SEED,
    counts: tuple[int, ...] = COUNTS,
    weathers: Sequence[Weather] = (),
    setups: Sequence[SetUp] | None = None,
    screen: bool = True,
    otherwise: bool = True,
    executor: Executor | None = None,
    on_answer: OnAnswer | None = None,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> Asked:
    """Answer a trip.

    Parameters
    ----------
    tolerance : by default the trip's own, else the program's
    now_s : present instant, POSIX seconds: boxes may be shut now, nobody leaves before
    counts : samples after each round; the last is how many the answer rests on
    weathers : members of an ensemble; by default the weather with the errors of its lead
    screen : drop what cannot be within the tolerance or does more harm than many others
    otherwise : look for other ways and departures where those asked for do not do
    on_answer : called with the answer so far after every round, its words left out
    should_stop : polled between pieces of work; Cancelled is raised when it says so

    Raises
    ------
    InputError : a window without departures
    """
    asked = opened(
        trip, road, weather, catalogue, tolerance=tolerance, now_s=now_s, seed=seed, counts=counts,
        weathers=weathers, setups=setups, screen=screen, executor=executor, should_stop=should_stop,
    )  # fmt: skip
    race = asked.race
    steps = len(counts) + 3

    def tell(done: int, *, finished: bool = False) -> None:
        if should_stop and should_stop():
            raise Cancelled
        if on_progress:
            on_progress(min(done / steps, 1.0))
        if on_answer:
            on_answer(asked.answer(finished=finished))

    race.enter_all(slots_of(race.field))
    for done, _ in enumerate(race.rounds(), 1):
        tell(done)
    _finish(asked, now_s, otherwise=otherwise)
    tell(steps, finished=True)
    race.field.work_here()
    return asked


def opened(
    trip: Trip,
    road: Road,
    weather: Weather,
    catalogue: Catalogue,
    *,
    tolerance: Tolerance | None = None,
    now_s: float | None = None,
    seed: int = SEED,
    counts: tuple[int, ...] = COUNTS,
    weathers: Sequence[Weather] = (),
    setups: Sequence[SetUp] | None = None,
    screen: bool = True,
    departures_s: Floats | None = None,
    executor: Executor | None = None,
    should_stop: Stop | None = None,
) -> Asked:
    """A trip laid out for the race, nothing judged yet; arguments as in ``ask``."""
    departures = departures_of(trip) if departures_s is None else departures_s
    whole, way, put_in = with_breaks(trip, road)
    whole, arrangements = arranged(whole, catalogue)
    field = Field(
        whole,
        way,
        tuple(weathers) or (weather,),
        catalogue,
        departures,
        closings_of(whole, way, catalogue, departures, now_s, weather),
        arrangements,
        _setups(whole, weather, catalogue) if setups is None else setups,
        samples=counts[-1],
        seed=seed,
        places=_places(whole, catalogue),
        executor=executor,
        should_stop=should_stop,
    )
    missed = missed_by_kind(whole, field.arrive_s)
    race = Race(
        field=field,
        tolerance=tolerance or tolerance_of(trip),
        room=_room_text(whole, catalogue, field),
        misses=[(*missed[d], *(("break",) if put_in else ())) for d in range(departures.size)],
        counts=counts,
        screen=screen,
    )
    rooms = [room_of(whole, catalogue, name) for name in whole.loading_places]
    too_small = crowded(whole, rooms, share_out(whole, catalogue), held_of(whole, catalogue), catalogue)
    unknown = unknown_law(lawless(trip, road))
    notes = (*catalogue.remarks, *weather.notes, *too_small, *estimated_road(way), *unknown)
    return Asked(race, whole, way, weather, catalogue, seed, put_in, notes)


def _setups(trip: Trip, weather: Weather, catalogue: Catalogue) -> Sequence[SetUp]:
    """Set-ups that do something for this load and in this weather.

    In cold air no water is given, so that misting is no way to go; battens raise only what would stand flat.
    """
    types = tuple(catalogue.box_types[group.box_type] for group in trip.groups)
    flat = any(
        stands_flat(group.stand, catalogue.loading_places[name])
        for group in trip.groups
        for name in _places(trip, catalogue)
    )
    setups = useful(trip.groups, types, ALL if flat else TRIED)
    limit_c = float(catalogue.parameters.rows["no_mist_below_c"].value)
    enclosed = any(catalogue.loading_places[name].volume_m3 > 0.0 for name in _places(trip, catalogue))
    hours = (weather.time_s >= trip.window.first_s - DAY_S) & (weather.time_s <= trip.window.last_s + DAY_S)
    known = weather.air_c[hours][~np.isnan(weather.air_c[hours])]
    cold = known.size > 0 and float(known.max()) < limit_c - (ENCLOSED_WARMER_K if enclosed else 0.0)
    return [setup for setup in setups if not (cold and setup is MISTED)]


def _places(trip: Trip, catalogue: Catalogue) -> tuple[str, ...]:
    """Places of the trip, those groups are pinned to, then the others of the same vehicles."""
    own = [*trip.loading_places, *(group.loading_place for group in trip.groups if group.loading_place)]
    vehicles = dict.fromkeys(catalogue.loading_places[name].vehicle for name in own)
    colours = {catalogue.loading_places[name].colour for name in own} - {""}
    colour = next(iter(sorted(colours)), "")
    others = [name for vehicle in vehicles for name in catalogue.alternatives_of(vehicle, colour)]
    return tuple(dict.fromkeys([*own, *others]))


def _room_text(trip: Trip, catalogue: Catalogue, field: Field) -> Callable[[tuple[int, ...]], str]:
    """How many boxes fit, where they do not all fit; "" where they do."""

    @cache
    def text(places: tuple[int, ...]) -> str:
        names = [field.places[place] for place in places]
        groups = tuple(replace(g, loading_place=n) for g, n in zip(trip.groups, names, strict=True))
        room = room_of(replace(trip, groups=groups), catalogue, names[0])
        return "" if room.enough else room.text

    return text


def slots_of(field: Field) -> Iterator[Slot]:
    """Every departure and arrangement with the load as declared, and with each set-up on all that can have it.

    Those that are tried late are left to ``try_otherwise``.
    """
    rows = dict.fromkeys(
        tuple(row if field.alters(row, g) else 0 for g in range(field.groups))
        for row, setup in enumerate(field.setups)
        if not setup.late
    )
    for departure in range(field.departures_s.size):
        for arrangement in range(len(field.arrangements)):
            for setups in rows:
                yield Slot(departure, arrangement, setups)


def _finish(asked: Asked, now_s: float | None, *, otherwise: bool) -> None:
    """After the last round: other ways where they are needed, a departure outside, the best looked at closely."""
    race = asked.race
    if not any(one.harm_of_100 is not None for one in race.candidates()):
        return
    _settle(race)
    if otherwise and decision_of(race.candidates()) != GO:
        try_otherwise(race)
        for count in race.counts[1:]:
            race.raise_to(race.survivors(count) if race.screen else list(race.slots), count)
        race.find_headroom()  # of those that came in late
    _settle(race, least=True)
    race.beside(race.candidates()[0])
    _settle(race, least=True)
    ranked = race.candidates()
    race.raise_helpful(_other_setups(ranked), ranked[0])
    _settle(race, least=True)
    ranked = race.candidates()
    if otherwise and decision_of(ranked) == DO_NOT_GO and any(one.fits for one in ranked):
        asked.next = _outside(asked, now_s)
        asked.looked_outside = True
    declared = next((one for one in ranked if is_declared(one) and one.harm_of_100 is not None), None)
    race.look_closer([one.key for one in (ranked[0], declared) if one is not None])
    if otherwise and ranked[0].standing == "within":
        asked.gummed = floors_shut(race, ranked[0])


def _settle(race: Race, *, least: bool = False) -> None:
    """Judge on until nothing that may still change the decision, or come out first, rests on few samples.

    ``least``: nor what seems to do less harm than the first.
    """
    looks = -1
    while looks != race.field.looks:
        looks = race.field.looks
        if race.screen:
            race.settle_open()
        race.lead()
        if race.screen and least:
            race.settle_least()


def _other_setups(ranked: Sequence[Candidate]) -> list[Key]:
    """The best candidate set up otherwise, the least harmed first: what helps is told in the samples of the answer."""
    best = ranked[0]
    if best.harm_of_100 is None or best.harm_of_100.value < WORTH_HELPING_OF_100:
        return []
    same = [
        one
        for one in ranked
        if (one.key.departure, one.key.arrangement) == (best.key.departure, best.key.arrangement)
        and one.key.setups != best.key.setups
        and one.harm_of_100 is not None
    ]
    return [one.key for one in sorted(same, key=_harm)[:MOST_SETUPS]]


def _harm(one: Candidate) -> tuple[float, int]:
    return one.harm_of_100.value if one.harm_of_100 else 100.0, one.work


def _outside(asked: Asked, now_s: float | None) -> Candidate | None:
    """The nearest departure outside the window that is within the tolerance as declared."""
    race, field = asked.race, asked.race.field
    lasts_s = float((field.opened_s - field.departures_s).max())
    before_s = float((field.departures_s[:, None] - np.nanmin(field.closings.closed_s, axis=0)).max())
    for departures in outside(asked.trip, asked.weather, lasts_s, before_s, now_s):
        there = opened(
            asked.trip, asked.road, asked.weather, asked.catalogue, tolerance=race.tolerance, now_s=now_s,
            seed=asked.seed, counts=race.counts, weathers=field.weathers, departures_s=departures,
            setups=field.setups[:1],
        )  # fmt: skip
        there.race.enter(slots_of(there.race.field))
        for _ in there.race.rounds():
            pass
        found = nearest(there.race.candidates(), asked.trip)
        if found is not None:
            there.race.look_closer([found.key])
            return there.race.record(found.key, close=True)
    return None


def _board(candidates: Sequence[Candidate], field: Field) -> dict[tuple[int, int], int]:
    """Row of the candidate as declared by departure and arrangement."""
    return {
        (one.key.departure, one.key.arrangement): row
        for row, one in enumerate(candidates)
        if is_declared(one) and one.key.arrangement < len(field.arrangements)
    }
