"""Accidents made up for tests: a hidden story of a size of its own, one unknown truth, what people find, with slips.

The rules by which findings follow from what happened are hard thresholds with noise, written apart from the likelihoods
that judge them.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from functools import cache

from planner.app.cause.stories import Story, Told, stories, told
from planner.app.inspect.pinned import Kept, kept_of
from planner.app.plan.results import Choice
from planner.model.records import Group
from tests.app.chancy import planned
from tests.model.scenarios import DAY_S, HOUR_S, NUC, SUMMER, catalogue

LOOKED = 0.7
SLIP = 0.05
SIZES = {
    "floor": (0.8, 1.0),
    "screen_covered": (0.8, 1.0),
    "shut_longer": (3.0, 8.0),
    "parked": (45.0, 120.0),
    "stronger": (1.3, 1.7),
    "chilled": (7.0, 12.0),
    "wetted": (5.0, 8.0),
}
OFF_THE_LIST = ("poisoned", "cooked_comb_only", "robbed", "crushed")


@dataclass(frozen=True)
class Accident:
    """What happened, and what was found."""

    story: str
    evidence: dict[str, str | float]


@cache
def rides() -> tuple[tuple[Kept, Group], ...]:
    """Boxes on the road: a strong one with a screen at noon, one cooled in a car, a weak one on a cold night."""
    strong = replace(NUC, frames_of_bees=5.0, roof="shaded_screen", floor_blocked_share=0.05)
    weak = replace(NUC, frames_of_bees=2.5, roof="screen", floor_blocked_share=0.05, open_brood_frames=1.5)
    trips = (
        planned(
            strong, "open_trailer", low_c=18, high_c=31, hours=5.0, leave_s=SUMMER + DAY_S + 9.0 * HOUR_S
        ),
        planned(
            strong, "cabin_seat_cooled", low_c=18, high_c=31, hours=5.0, leave_s=SUMMER + DAY_S + 9.0 * HOUR_S
        ),
        planned(weak, "open_trailer", low_c=6, high_c=14, hours=6.0, leave_s=SUMMER + DAY_S + 21.0 * HOUR_S),
    )
    return tuple((kept_of(plan, Choice(0, 0, 0)), plan.trip.groups[0]) for plan in trips)


@cache
def candidates(ride: int) -> list[Told]:
    """What the program works out of a ride, once."""
    kept, group = rides()[ride]
    return told(kept, 0, group, catalogue(), samples=96)


def accident(seed: int) -> tuple[int, Accident]:
    """A ride and what befell it: drawn by the priors, kept only where it did harm."""
    dice = random.Random(seed)
    while True:
        ride = dice.randrange(len(rides()))
        known = [one.story.name for one in candidates(ride)]
        told_here = [s for s in stories() if s.name in known]
        story = dice.choices(told_here, [s.prior for s in told_here])[0]
        low, high = SIZES.get(story.name, (story.amount, story.amount))
        sized = Story(story.name, 1.0, dice.uniform(low, high))
        (happened,) = truth(ride, sized)
        (recorded,) = truth(ride, Story("recorded", 1.0))
        every = range(happened.states["dead_share"].size)
        caused = story.name in ("dropped", "sick")
        harmed = [at for at in every if caused or _harm(happened, at)]
        if story.name != "recorded":  # what would have happened anyway was not caused by the story
            harmed = [at for at in harmed if not _harm(recorded, at)]
        if harmed:
            return ride, Accident(story.name, found(happened, dice.choice(harmed), dice))


@cache
def truth(ride: int, story: Story) -> list[Told]:
    kept, group = rides()[ride]
    return told(kept, 0, group, catalogue(), samples=24, chosen=[story])


def _harm(one: Told, at: int) -> bool:
    states = one.states
    return bool(
        states["comb_harmed"][at] > 0
        or states["dead_share"][at] > 0.08
        or states["brood_dose"][at] > 1.0
        or states["brood_cold_dose"][at] > 1.0
    )


def found(one: Told, at: int, dice: random.Random) -> dict[str, str | float]:
    """What people find in a box to which this happened, each line looked at by seven of ten."""
    state = {name: float(values[at]) for name, values in one.states.items()}
    name, group = one.story.name, one.group
    hot, dead = state["peak_core_c"], state["dead_share"]
    limit = 43.5 if group.comb == "new" else 46.5
    down = hot + dice.gauss(0, 0.7) > limit or (name == "dropped" and dice.random() < 0.8)
    dose = max(state["brood_dose"], state["brood_cold_dose"])
    said: dict[str, str | float] = {
        "combs": ("most" if hot > limit + 2.5 else "some") if down else "none",
        "lug": "soft" if hot + dice.gauss(0, 0.7) > 42.0 else "torn",
        "honey": "on_floor" if down and dice.random() < 0.8 else "dry",
        "dead": "heap" if dead > 0.45 else "layer" if dead > 0.06 else "few",
        "bodies": "wet" if hot + dice.gauss(0, 0.6) > 43.0 or (down and dice.random() < 0.7) else "dry",
        "brood": "dead" if dose > 3.0 else "part" if dose > 0.5 else "alive",
        "queen": "none" if dice.random() < min(state["sperm_loss_share"] + dead, 0.9) else "eggs",
        "leaning": "yes" if name == "dropped" and dice.random() < 0.7 else "no",
        "screen": {"screen_missing": "missing", "screen_covered": "covered"}.get(name, "as_planned"),
        "stood": "cloth" if name == "cloth" else "as_planned",
        "soaked": "yes" if name == "wetted" else "no",
        "signs": "yes" if name == "sick" and dice.random() < 0.8 else "no",
        "colder": (one.story.amount if name in ("chilled", "wetted") else 0.0) + dice.gauss(0, 1.5),
        "stores": "none" if name == "starved" else "left",
        "cooling": "off" if name == "cooling_off" else "on",
        "mesh": _bounded(
            100 * (one.story.amount if name == "floor" else group_blocked(one)) + dice.gauss(0, 6), 100
        ),
        "shut_longer": _bounded(
            (one.story.amount if name == "shut_longer" else 0.0) + dice.gauss(0, 0.5), 72
        ),
        "parked": _bounded((one.story.amount if name == "parked" else 0.0) + dice.gauss(0, 8), 600),
        "strength": _bounded(group.frames_of_bees + dice.gauss(0, 0.7), 40),
        "logger": hot + dice.gauss(0, 1.0),
        "logger_low": state["low_core_c"] + dice.gauss(0, 1.0),
    }
    if name == "sick":
        said |= {"dead": dice.choice(["few", "layer"]), "brood": dice.choice(["part", "alive"])}
    if not down:
        del said["lug"]
    lines = {"logger": 0.25, "logger_low": 0.25, "strength": 0.4}
    kept = {line: value for line, value in said.items() if dice.random() < lines.get(line, LOOKED)}
    for line in [line for line in kept if dice.random() < SLIP and line in ("dead", "brood", "bodies")]:
        kept[line] = dice.choice(
            {"dead": ["few", "layer", "heap"], "brood": ["alive", "part", "dead"]}.get(line, ["dry", "wet"])
        )
    return kept


def group_blocked(one: Told) -> float:
    return one.planned.floor_blocked_share


def _bounded(value: float, most: float) -> float:
    return min(max(value, 0.0), most)


def unlisted(seed: int) -> tuple[int, Accident]:
    """What no story on the list says: poison, wax molten where nothing else was hot, robbers, a crushed box."""
    dice = random.Random(seed)
    ride = dice.randrange(len(rides()))
    usual: dict[str, str | float] = {
        "combs": "none", "honey": "dry", "brood": "alive", "screen": "as_planned", "stood": "as_planned",
        "soaked": "no", "stores": "left", "leaning": "no", "mesh": 5.0, "shut_longer": 0.0, "parked": 0.0,
    }  # fmt: skip
    story = dice.choice(OFF_THE_LIST)
    other: dict[str, dict[str, str | float]] = {
        "poisoned": {"dead": "heap", "bodies": "wet", "brood": "alive", "where": "floor", "queen": "none"},
        "cooked_comb_only": {
            "combs": "most",
            "lug": "soft",
            "honey": "on_floor",
            "dead": "few",
            "bodies": "dry",
        },
        "robbed": {
            "dead": "heap",
            "bodies": "dry",
            "stores": "none",
            "brood": "alive",
            "combs": "some",
            "lug": "torn",
        },
        "crushed": {
            "combs": "most",
            "lug": "torn",
            "honey": "on_floor",
            "dead": "heap",
            "bodies": "wet",
            "leaning": "no",
        },
    }
    evidence = {**usual, **other[story]}
    kept = {line: value for line, value in evidence.items() if line in other[story] or dice.random() < LOOKED}
    return ride, Accident(story, kept)
