"""Evidence held against stories: how likely each answer is in each sample of a story, and what share each story has.

The table of likelihoods is grade D throughout: an engineering estimate of what such a box looks like. A story's share
is its prior times the mean likelihood of all that was found, "none of these" being a story that takes every
answer for as likely as any other. How well the best story fits at all is told by the
samples that carry it, each answer held against the likeliest one: 1 where everything is just what the story leads to
expect.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from planner.app.cause.evidence import Evidence, Line, form
from planner.app.cause.stories import Told
from planner.model.records import Floats

NONE_PRIOR = 0.02
NOT_EXPLAINED = 0.05
LEAST_EFFECTIVE = 20.0
LEAST_CHANCE = 0.02
"""Of any answer in any sample: people slip, and boxes differ."""


@dataclass(frozen=True)
class Weighed:
    """A story with its ``share`` 0..1 of all, how well it ``fits`` 0..1, and the answers that speak for and against."""

    name: str
    share: float
    fits: float
    agrees: tuple[str, ...] = ()
    disagrees: tuple[str, ...] = ()


@dataclass(frozen=True)
class Weighing:
    """All stories, the largest share first; ``none_share`` of "none of these"; what would tell the first two apart.

    ``effective`` how many samples carry the weight of the best story.
    """

    stories: tuple[Weighed, ...]
    none_share: float
    effective: float
    settles: tuple[str, ...]
    evidence: Evidence

    @property
    def explained(self) -> bool:
        """Whether any story explains it well."""
        return (
            bool(self.stories)
            and self.stories[0].fits >= NOT_EXPLAINED
            and self.none_share < self.stories[0].share
        )

    @property
    def can_tell(self) -> bool:
        return self.effective >= LEAST_EFFECTIVE


def weighed(told: Sequence[Told], evidence: Evidence) -> Weighing:
    """Hold what was found against every story; empty evidence leaves the priors."""
    chances = {one.story.name: {name: _chances(one, form()[name]) for name in evidence} for one in told}
    likely: dict[str, Floats] = {}
    fits: dict[str, float] = {}
    for one in told:
        size = one.states["peak_core_c"].size
        likelihood, fit = np.ones(size), np.ones(size)
        for name, value in evidence.items():
            found, most = _at(chances[one.story.name][name], form()[name], value)
            likelihood, fit = likelihood * found, fit * found / most
        likely[one.story.name] = likelihood
        fits[one.story.name] = float((likelihood * fit).sum() / max(float(likelihood.sum()), 1e-300))
    none = NONE_PRIOR * float(np.prod([1.0 / _answers(form()[name]) for name in evidence]))
    mass = {one.story.name: one.story.prior * float(likely[one.story.name].mean()) for one in told}
    total = none + sum(mass.values())
    order = sorted(told, key=lambda one: -mass[one.story.name])
    ranked = tuple(
        Weighed(
            one.story.name,
            mass[one.story.name] / total,
            fits[one.story.name],
            *_sides(chances[one.story.name], evidence),
        )
        for one in order
    )
    weights = likely[order[0].story.name] if order else np.zeros(1)
    effective = float(weights.sum() ** 2 / max(float((weights**2).sum()), 1e-300))
    return Weighing(ranked, none / total, effective, _settles(order, likely, evidence), evidence)


def _answers(line: Line) -> float:
    """How many answers a line has; a figure has so many as its spread fits into the range that boxes come in."""
    return (
        float(len(line.answers)) if line.answers else max((line.high - line.low) / (6.0 * line.spread), 3.0)
    )


def _at(chance: Floats, line: Line, value: str | float) -> tuple[Floats, Floats]:
    """The chance of what was found and of the likeliest answer, each (sample,)."""
    if line.answers:
        return chance[line.answers.index(str(value))], chance.max(axis=0)
    away = (float(value) - chance[0]) / chance[1]
    likely = np.exp(-0.5 * away**2)
    kept = 1.0 - LEAST_CHANCE
    return (LEAST_CHANCE + kept * likely) / 2.5, np.full(likely.size, 1.0 / 2.5)


def _sides(chances: Mapping[str, Floats], evidence: Evidence) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Which answers a story leads to expect and which it does not."""
    agrees: list[str] = []
    disagrees: list[str] = []
    for name, value in evidence.items():
        found, most = _at(chances[name], form()[name], value)
        share = float(np.mean(found) / np.mean(most))
        (agrees if share >= 0.5 else disagrees if share < 0.25 else []).append(name)
    return tuple(agrees), tuple(disagrees)


def _settles(
    order: Sequence[Told], likely: Mapping[str, Floats], evidence: Evidence, most: int = 3
) -> tuple[str, ...]:
    """Lines nobody has looked at on which the first two stories differ most."""
    if len(order) < 2:
        return ()
    apart = {}
    for name, line in form().items():
        if name in evidence:
            continue
        one, two = (_mean(_chances(told, line), likely[told.story.name]) for told in order[:2])
        if line.answers:
            apart[name] = 0.5 * float(np.abs(one - two).sum())
        else:
            apart[name] = float(min(abs(one[0] - two[0]) / (4.0 * line.spread), 1.0))
    return tuple(sorted((name for name in apart if apart[name] >= 0.2), key=lambda name: -apart[name])[:most])


def _mean(chance: Floats, weights: Floats) -> Floats:
    return np.asarray(chance @ (weights / max(float(weights.sum()), 1e-300)))


# -- what a box looks like that went through this: grade D, every line -----------------------------


def _chances(told: Told, line: Line) -> Floats:
    """Of each answer in each sample (answer, sample); of a figure its middle and spread (2, sample)."""
    raw = _LINES[line.name](told)
    if not line.answers:
        return raw
    kept = np.maximum(raw, LEAST_CHANCE)
    return np.asarray(kept / kept.sum(axis=0))


def _rows(*shares: Floats | float, size: int) -> Floats:
    return np.stack([np.broadcast_to(np.asarray(share, dtype=np.float64), (size,)) for share in shares])


def _size(told: Told) -> int:
    return int(told.states["peak_core_c"].size)


def _combs(told: Told) -> Floats:
    states, size = told.states, _size(told)
    soft = 43.5 if told.group.comb == "new" else 46.5
    down = np.maximum(expit((np.fmax(states["peak_core_c"], states["peak_stores_c"]) - soft) / 1.0), 0.0)
    if told.story.name == "dropped":
        down = np.full(size, 0.75)
    most = down * expit((states["peak_core_c"] - soft - 2.0) / 1.5)
    return _rows(1.0 - down, down - 0.8 * most, 0.8 * most, size=size)


def _lug(told: Told) -> Floats:
    soft = expit((told.states["peak_core_c"] - 42.0) / 1.0)
    return _rows(soft, 1.0 - soft, size=_size(told))


def _honey(told: Told) -> Floats:
    down = 1.0 - _combs(told)[0]
    return _rows(1.0 - 0.8 * down, 0.8 * down, size=_size(told))


def _dead(told: Told) -> Floats:
    share = told.states["dead_share"]
    if told.story.name == "sick":
        return _rows(0.35, 0.5, 0.15, size=_size(told))
    heap = expit((share - 0.45) / 0.08)
    few = expit((0.06 - share) / 0.02)
    return _rows(few, np.maximum(1.0 - few - heap, 0.0), heap, size=_size(told))


def _bodies(told: Told) -> Floats:
    states = told.states
    wet = np.maximum(expit((states["peak_core_c"] - 43.0) / 0.8), 0.8 * (1.0 - _combs(told)[0]))
    if told.story.name == "wetted":
        wet = np.maximum(wet, 0.85)
    return _rows(1.0 - wet, wet, size=_size(told))


def _where(told: Told) -> Floats:
    states = told.states
    hot = expit((states["peak_core_c"] - 41.0) / 1.0)
    cold = expit((14.0 - states["low_core_c"]) / 2.0)
    if told.story.name == "starved":
        cold = np.maximum(cold, 0.7)
    mesh = hot * (0.55 if told.group.roof != "solid" or told.group.entrance == "mesh" else 0.35)
    cells = 0.6 * cold * (1.0 - hot)
    between = 0.25 * np.ones(_size(told))
    return _rows(np.maximum(1.0 - mesh - cells - between, 0.1), mesh, between, cells, size=_size(told))


def _brood(told: Told) -> Floats:
    states = told.states
    dose = np.maximum(states["brood_dose"], states["brood_cold_dose"])
    dead = expit((np.log10(np.maximum(dose, 1e-6)) - 0.5) / 0.25)
    alive = expit((-0.3 - np.log10(np.maximum(dose, 1e-6))) / 0.2)
    if told.story.name == "sick":
        return _rows(0.35, 0.5, 0.15, size=_size(told))
    return _rows(alive, np.maximum(1.0 - alive - dead, 0.0), dead, size=_size(told))


def _queen(told: Told) -> Floats:
    states = told.states
    lost = np.clip(1.2 * states["sperm_loss_share"] + 0.8 * states["dead_share"], 0.05, 0.95)
    if told.story.name in ("dropped", "sick"):
        lost = np.maximum(lost, 0.35)
    return _rows(1.0 - lost, lost, size=_size(told))


def _two(name: str, likely: float = 0.9, else_: float = 0.03) -> Callable[[Told], Floats]:
    """A line of two answers, the second of which one story leads to expect."""

    def chances(told: Told) -> Floats:
        share = likely if told.story.name == name else else_
        return _rows(1.0 - share, share, size=_size(told))

    return chances


def _screen(told: Told) -> Floats:
    if told.planned.roof == "solid":
        return _rows(0.9, 0.05, 0.05, size=_size(told))
    missing = 0.92 if told.story.name == "screen_missing" else 0.02
    covered = 0.8 if told.story.name == "screen_covered" else 0.02
    return _rows(max(1.0 - missing - covered, 0.04), missing, covered, size=_size(told))


def _mesh(told: Told) -> Floats:
    """A gummed floor is gummed by anything from seven tenths up; any other is as it was written down."""
    size = _size(told)
    if told.story.name == "floor":
        return _rows(90.0, 12.0, size=size)
    return _rows(100.0 * told.planned.floor_blocked_share, 10.0, size=size)


def _amount(name: str, usual: float, spread: float, told_spread: float) -> Callable[[Told], Floats]:
    def chances(told: Told) -> Floats:
        if told.story.name == name:
            return _rows(told.story.amount, told_spread, size=_size(told))
        return _rows(usual, spread, size=_size(told))

    return chances


def _colder(told: Told) -> Floats:
    kelvin = told.story.amount if told.story.name in ("chilled", "wetted") else 0.0
    return _rows(kelvin, 3.0 if kelvin else 2.0, size=_size(told))


def _strength(told: Told) -> Floats:
    spread = 1.0 if told.story.name != "stronger" else 0.2 * told.group.frames_of_bees
    return _rows(told.group.frames_of_bees, max(spread, 0.8), size=_size(told))


def _logger(told: Told) -> Floats:
    peak = told.states["peak_core_c"]
    return np.stack([peak, np.full(peak.size, form()["logger"].spread)])


def _logger_low(told: Told) -> Floats:
    low = told.states["low_core_c"]
    return np.stack([low, np.full(low.size, form()["logger_low"].spread)])


_LINES: Mapping[str, Callable[[Told], Floats]] = {
    "combs": _combs,
    "lug": _lug,
    "honey": _honey,
    "dead": _dead,
    "bodies": _bodies,
    "where": _where,
    "brood": _brood,
    "queen": _queen,
    "leaning": _two("dropped", 0.7, 0.03),
    "screen": _screen,
    "stood": _two("cloth"),
    "soaked": _two("wetted"),
    "stores": _two("starved"),
    "signs": _two("sick", 0.8),
    "colder": _colder,
    "cooling": _two("cooling_off"),
    "mesh": _mesh,
    "shut_longer": _amount("shut_longer", 0.0, 1.0, 2.5),
    "parked": _amount("parked", 0.0, 12.0, 35.0),
    "strength": _strength,
    "logger": _logger,
    "logger_low": _logger_low,
}
